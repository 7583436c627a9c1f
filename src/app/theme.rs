//! Colours, type and spacing of the window.
//!
//! Neutral surfaces and one accent (a blue, which stays apart from grass and soil under
//! every common kind of colour-blindness). Marks never rely on colour: they have a dark
//! and a light edge and a shape of their own.

use std::sync::Arc;

use eframe::egui::{
    self, Color32, CornerRadius, FontData, FontDefinitions, FontFamily, FontId, FontTweak, Margin,
    Stroke, TextStyle, Vec2, epaint::Shadow, style::WidgetVisuals,
};
use serde::{Deserialize, Serialize};

/// How the window is lit.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Theme {
    /// For indoors by day.
    #[default]
    Light,
    /// For the evening and for judging pictures.
    Dark,
    /// Black on white, thicker lines, larger type: for a laptop in the sun.
    Sun,
}

impl Theme {
    /// In the order in which they are offered.
    pub const ALL: [Self; 3] = [Self::Light, Self::Dark, Self::Sun];

    /// The one after it, round the end.
    pub fn next(self) -> Self {
        match self {
            Self::Light => Self::Dark,
            Self::Dark => Self::Sun,
            Self::Sun => Self::Light,
        }
    }

    /// Plain words for buttons.
    pub fn words(self) -> &'static str {
        match self {
            Self::Light => "Light",
            Self::Dark => "Dark",
            Self::Sun => "Sunlight",
        }
    }

    /// The colours of this theme.
    pub fn colours(self) -> Colours {
        match self {
            Self::Light => Colours {
                ground: Color32::from_rgb(0xEC, 0xEC, 0xE8),
                panel: Color32::from_rgb(0xF8, 0xF8, 0xF5),
                raised: Color32::from_rgb(0xFF, 0xFF, 0xFE),
                line: Color32::from_rgb(0xD5, 0xD6, 0xCF),
                turf: Color32::from_rgb(0xD5, 0xD6, 0xCF),
                text: Color32::from_rgb(0x1C, 0x20, 0x1E),
                quiet: Color32::from_rgb(0x5C, 0x64, 0x5F),
                accent: Color32::from_rgb(0x24, 0x52, 0xB8),
                on_accent: Color32::WHITE,
                stroke: 1.0,
            },
            Self::Dark => Colours {
                ground: Color32::from_rgb(0x11, 0x13, 0x13),
                panel: Color32::from_rgb(0x1A, 0x1D, 0x1D),
                raised: Color32::from_rgb(0x26, 0x2A, 0x2A),
                line: Color32::from_rgb(0x38, 0x3E, 0x3D),
                turf: Color32::from_rgb(0x38, 0x3E, 0x3D),
                text: Color32::from_rgb(0xEA, 0xEC, 0xE8),
                quiet: Color32::from_rgb(0xA3, 0xAB, 0xA6),
                accent: Color32::from_rgb(0x8F, 0xB4, 0xFF),
                on_accent: Color32::from_rgb(0x0C, 0x16, 0x2C),
                stroke: 1.0,
            },
            Self::Sun => Colours {
                ground: Color32::WHITE,
                panel: Color32::WHITE,
                raised: Color32::WHITE,
                line: Color32::BLACK,
                turf: Color32::from_gray(0xC4),
                text: Color32::BLACK,
                quiet: Color32::from_gray(0x26),
                accent: Color32::from_rgb(0x00, 0x2E, 0x9E),
                on_accent: Color32::WHITE,
                stroke: 2.0,
            },
        }
    }
}

/// How large the text is.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum TextSize {
    /// More room for the picture.
    Small,
    /// As designed.
    #[default]
    Medium,
    /// For weak eyes or a distant screen.
    Large,
}

impl TextSize {
    /// In the order in which they are offered.
    pub const ALL: [Self; 3] = [Self::Small, Self::Medium, Self::Large];

    /// Plain words for buttons.
    pub fn words(self) -> &'static str {
        match self {
            Self::Small => "Small",
            Self::Medium => "Medium",
            Self::Large => "Large",
        }
    }

    fn factor(self) -> f32 {
        match self {
            Self::Small => 0.9,
            Self::Medium => 1.0,
            Self::Large => 1.22,
        }
    }
}

/// The few colours the window is made of.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Colours {
    /// Around the picture.
    pub ground: Color32,
    /// Panels.
    pub panel: Color32,
    /// Buttons, fields, cards.
    pub raised: Color32,
    /// Hairlines.
    pub line: Color32,
    /// The strip of turf on rulers.
    pub turf: Color32,
    /// Text.
    pub text: Color32,
    /// Text of second rank; still at least 4.5 : 1 against the panel (WCAG 2.2, 1.4.3).
    pub quiet: Color32,
    /// The one accent: what is selected, what is next.
    pub accent: Color32,
    /// Text on the accent.
    pub on_accent: Color32,
    /// Width of lines, in points.
    pub stroke: f32,
}

/// The family of the bolder weight.
pub fn strong_family() -> FontFamily {
    FontFamily::Name("strong".into())
}

/// The largest of the three text sizes: for the one number that matters.
pub fn big() -> TextStyle {
    TextStyle::Name("big".into())
}

/// Body size in the bolder weight.
pub fn strong() -> TextStyle {
    TextStyle::Name("strong".into())
}

/// The typeface: Lato (SIL Open Font License 1.1), whose figures all have the same width.
pub fn fonts() -> FontDefinitions {
    let mut fonts = FontDefinitions::empty();
    // Lato's ascent is larger than its descent; moved down, capitals sit in the middle of a row.
    let tweak = FontTweak { y_offset_factor: 0.07, ..FontTweak::default() };
    let face = |bytes| FontData::from_static(bytes).tweak(tweak.clone());
    let regular = face(include_bytes!("../../assets/Lato-Regular.ttf").as_slice());
    let semibold = face(include_bytes!("../../assets/Lato-Semibold.ttf").as_slice());
    fonts.font_data.insert("regular".into(), Arc::new(regular));
    fonts.font_data.insert("semibold".into(), Arc::new(semibold));
    for family in [FontFamily::Proportional, FontFamily::Monospace] {
        fonts.families.insert(family, vec!["regular".into()]);
    }
    fonts.families.insert(strong_family(), vec!["semibold".into(), "regular".into()]);
    fonts
}

/// Dresses `ctx` in `theme` with text of `size`.
pub fn apply(ctx: &egui::Context, theme: Theme, size: TextSize) {
    let base = if theme == Theme::Dark { egui::Theme::Dark } else { egui::Theme::Light };
    ctx.set_theme(base);
    let style = style(theme, size, base);
    ctx.set_style_of(base, style);
}

fn style(theme: Theme, size: TextSize, base: egui::Theme) -> egui::Style {
    let colours = theme.colours();
    let factor = size.factor() * if theme == Theme::Sun { 1.1 } else { 1.0 };
    let mut style = base.default_style();
    let body = FontId::new(14.5 * factor, FontFamily::Proportional);
    style.text_styles = [
        (TextStyle::Small, FontId::new(12.5 * factor, FontFamily::Proportional)),
        (TextStyle::Body, body.clone()),
        (TextStyle::Button, body.clone()),
        (TextStyle::Monospace, body.clone()),
        (TextStyle::Heading, FontId::new(14.5 * factor, strong_family())),
        (strong(), FontId::new(14.5 * factor, strong_family())),
        (big(), FontId::new(31.0 * factor, strong_family())),
    ]
    .into();
    style.spacing.item_spacing = Vec2::new(8.0, 6.0);
    style.spacing.button_padding = Vec2::new(10.0, 5.0);
    style.spacing.interact_size.y = 28.0 * factor;
    style.spacing.menu_margin = Margin::same(8);
    style.spacing.window_margin = Margin::same(18);
    style.spacing.tooltip_width = 320.0;
    style.spacing.slider_rail_height = 4.0;
    style.animation_time = 0.08;
    style.interaction.tooltip_delay = 0.4;
    paint(&mut style.visuals, &colours, theme);
    style
}

fn paint(visuals: &mut egui::Visuals, colours: &Colours, theme: Theme) {
    visuals.dark_mode = theme == Theme::Dark;
    visuals.panel_fill = colours.panel;
    visuals.window_fill = colours.panel;
    visuals.window_stroke = Stroke::new(colours.stroke, colours.line);
    visuals.window_corner_radius = CornerRadius::same(10);
    visuals.menu_corner_radius = CornerRadius::same(8);
    visuals.window_shadow = Shadow {
        offset: [0, 8],
        blur: 32,
        spread: 0,
        color: Color32::from_black_alpha(if theme == Theme::Sun { 0 } else { 60 }),
    };
    visuals.popup_shadow = visuals.window_shadow;
    visuals.extreme_bg_color = colours.raised;
    visuals.faint_bg_color = colours.ground;
    visuals.code_bg_color = colours.ground;
    visuals.weak_text_color = Some(colours.quiet);
    visuals.hyperlink_color = colours.accent;
    visuals.warn_fg_color = colours.text;
    visuals.error_fg_color = colours.text;
    visuals.selection.bg_fill = colours.accent;
    visuals.selection.stroke = Stroke::new(colours.stroke, colours.on_accent);
    visuals.indent_has_left_vline = false;
    let look = |fill: Color32, edge: Color32, ink: Color32| WidgetVisuals {
        bg_fill: fill,
        weak_bg_fill: fill,
        bg_stroke: Stroke::new(colours.stroke, edge),
        fg_stroke: Stroke::new(colours.stroke, ink),
        corner_radius: CornerRadius::same(6),
        expansion: 0.0,
    };
    visuals.widgets.noninteractive = look(colours.panel, colours.line, colours.text);
    visuals.widgets.inactive = look(colours.raised, colours.line, colours.text);
    visuals.widgets.hovered = look(colours.raised, colours.quiet, colours.text);
    visuals.widgets.active = look(colours.ground, colours.accent, colours.text);
    visuals.widgets.open = look(colours.ground, colours.quiet, colours.text);
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Relative luminance and contrast ratio as WCAG 2.2 defines them.
    fn contrast(a: Color32, b: Color32) -> f64 {
        let luminance = |c: Color32| {
            let channel = |v: u8| {
                let v = f64::from(v) / 255.0;
                if v <= 0.04045 { v / 12.92 } else { ((v + 0.055) / 1.055).powf(2.4) }
            };
            0.2126 * channel(c.r()) + 0.7152 * channel(c.g()) + 0.0722 * channel(c.b())
        };
        let (a, b) = (luminance(a), luminance(b));
        (a.max(b) + 0.05) / (a.min(b) + 0.05)
    }

    #[test]
    fn contrast_ratio_has_its_published_range() {
        // WCAG 2.2: black on white is 21 : 1.
        assert!((contrast(Color32::BLACK, Color32::WHITE) - 21.0).abs() < 1e-9);
    }

    #[test]
    fn every_text_stands_out_from_its_surface() {
        for theme in Theme::ALL {
            let c = theme.colours();
            // WCAG 2.2, 1.4.3: 4.5 : 1 for text; 1.4.6: 7 : 1 in the sunlight theme.
            let least = if theme == Theme::Sun { 7.0 } else { 4.5 };
            for surface in [c.panel, c.raised, c.ground] {
                assert!(contrast(c.text, surface) > 7.0, "{theme:?} text");
                assert!(contrast(c.quiet, surface) > least, "{theme:?} quiet");
                assert!(contrast(c.accent, surface) > least, "{theme:?} accent");
            }
            assert!(contrast(c.on_accent, c.accent) > least, "{theme:?} on accent");
        }
    }

    /// What a person sees who lacks one kind of cone, in linear RGB. The matrices for a complete
    /// lack (severity 1.0) of G. M. Machado, M. M. Oliveira, L. A. F. Fernandes, "A
    /// Physiologically-based Model for Simulation of Color Vision Deficiency", IEEE Transactions
    /// on Visualization and Computer Graphics 15 (2009), table 1.
    const LACKING: [(&str, [[f64; 3]; 3]); 3] = [
        (
            "protanopia",
            [
                [0.152286, 1.052583, -0.204868],
                [0.114503, 0.786281, 0.099216],
                [-0.003882, -0.048116, 1.051998],
            ],
        ),
        (
            "deuteranopia",
            [
                [0.367322, 0.860646, -0.227968],
                [0.280085, 0.672501, 0.047413],
                [-0.011820, 0.042940, 0.968881],
            ],
        ),
        (
            "tritanopia",
            [
                [1.255528, -0.076749, -0.178779],
                [-0.078411, 0.930809, 0.147602],
                [0.004733, 0.691367, 0.303900],
            ],
        ),
    ];

    /// From sRGB to linear and back: IEC 61966-2-1.
    fn linear(c: Color32) -> [f64; 3] {
        [c.r(), c.g(), c.b()].map(|v| {
            let v = f64::from(v) / 255.0;
            if v <= 0.04045 { v / 12.92 } else { ((v + 0.055) / 1.055).powf(2.4) }
        })
    }

    fn seen_by(matrix: &[[f64; 3]; 3], c: Color32) -> [f64; 3] {
        let c = linear(c);
        matrix.map(|row| row.iter().zip(c).map(|(a, b)| a * b).sum::<f64>().clamp(0.0, 1.0))
    }

    /// CIE 1976 L*a*b* of a linear sRGB colour under D65 (ISO/CIE 11664-4).
    fn lab([r, g, b]: [f64; 3]) -> [f64; 3] {
        let x = (0.4124 * r + 0.3576 * g + 0.1805 * b) / 0.9505;
        let y = 0.2126 * r + 0.7152 * g + 0.0722 * b;
        let z = (0.0193 * r + 0.1192 * g + 0.9505 * b) / 1.089;
        let f = |t: f64| {
            if t > (6.0 / 29.0f64).powi(3) { t.cbrt() } else { t * 841.0 / 108.0 + 4.0 / 29.0 }
        };
        [116.0 * f(y) - 16.0, 500.0 * (f(x) - f(y)), 200.0 * (f(y) - f(z))]
    }

    fn apart(a: [f64; 3], b: [f64; 3]) -> f64 {
        lab(a).iter().zip(lab(b)).map(|(a, b)| (a - b).powi(2)).sum::<f64>().sqrt()
    }

    #[test]
    fn neutral_colours_stay_neutral_under_every_lack() {
        // The published rows add up to 1: grey is seen as grey.
        for (name, matrix) in &LACKING {
            for row in matrix {
                assert!((row.iter().sum::<f64>() - 1.0).abs() < 2e-6, "{name}");
            }
        }
        // CIE: white has L* = 100; and red and green, far apart, come near to each other for
        // those who lack a cone of the long or the middle waves.
        assert!((lab([1.0; 3])[0] - 100.0).abs() < 0.01);
        let (red, green) = (Color32::from_rgb(200, 60, 40), Color32::from_rgb(110, 110, 20));
        let plainly = apart(linear(red), linear(green));
        let lacking = apart(seen_by(&LACKING[1].1, red), seen_by(&LACKING[1].1, green));
        assert!(lacking < 0.55 * plainly, "{plainly} {lacking}");
    }

    #[test]
    fn what_is_selected_is_told_from_what_is_not_without_every_cone() {
        for theme in Theme::ALL {
            let c = theme.colours();
            // 20 in CIELAB is some nine times what is just noticed (2.3, Mahy et al. 1994).
            for (name, matrix) in &LACKING {
                for other in [c.text, c.quiet, c.panel, c.raised, c.ground] {
                    let gap = apart(seen_by(matrix, c.accent), seen_by(matrix, other));
                    assert!(
                        gap > 20.0,
                        "{theme:?}, {name}: accent and {other:?} are {gap:.0} apart"
                    );
                }
            }
        }
    }

    #[test]
    fn what_lies_on_the_ground_is_told_from_it_without_every_cone() {
        use crate::report::{drawing::Tone, paint::ON_PICTURE};
        let [r, g, b] = ON_PICTURE.rgb(Tone::Accent);
        let measured = Color32::from_rgb(r, g, b);
        // Grass, dry grass, soil, a mat.
        for (r, g, b) in [(96, 130, 64), (150, 140, 80), (100, 76, 56), (40, 90, 60)] {
            for (name, matrix) in &LACKING {
                let ground = seen_by(matrix, Color32::from_rgb(r, g, b));
                // Every mark has a light and a dark edge as well.
                for ink in [measured, Color32::WHITE, Color32::BLACK] {
                    let gap = apart(seen_by(matrix, ink), ground);
                    assert!(gap > 30.0, "{name}: {ink:?} on {r} {g} {b} are {gap:.0} apart");
                }
            }
        }
    }
}
