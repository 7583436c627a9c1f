//! Every screen in every theme, compared with a stored picture of it.
//!
//! Painted on the CPU by the tests' own painter, then brought to a quarter of its size, so that
//! a different rounding of a letter's edge does not count, but a thing that is missing, moved or
//! of another colour does. `SCUFFLINE_RENEW_SCREENS=1` stores the pictures anew; pictures that
//! differ are kept beside the test's files in the temporary folder named by the failure.

use std::path::{Path, PathBuf};

use eframe::egui::{ColorImage, Rect, Shape};
use egui_kittest::Harness;
use scuffline::app::{
    Chapter, Message, Model, NotebookMessage, Options, Page, PictureMessage, ScreenMessage,
    SettingsMessage, Sheet, Shown, SwingMessage, TextSize, Theme,
};
use scuffline::domain::Quantity;
use scuffline::geometry::CameraNumber;
use scuffline::workflow::ComparedNumber;

use crate::support::painter::Painter;
use crate::support::window::{Driven, drive, model, until};

/// Stored pictures are smaller by this factor.
const SMALLER: usize = 4;
/// A stored pixel that differs by more than this in any channel has changed, of 255.
const SAME: u8 = 40;
/// So many parts of all pixels may have changed: letters that fall on other pixels.
const MAY_DIFFER: f64 = 0.004;

fn stored(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/capability/data/screens").join(name)
}

/// Four by four pixels become one: their mean.
fn smaller(picture: &ColorImage) -> image::RgbImage {
    let [width, height] = picture.size.map(|n| n / SMALLER);
    image::RgbImage::from_fn(width as u32, height as u32, |x, y| {
        let mut sum = [0u32; 3];
        for (dy, dx) in (0..SMALLER).flat_map(|y| (0..SMALLER).map(move |x| (y, x))) {
            let at = (y as usize * SMALLER + dy) * picture.size[0] + x as usize * SMALLER + dx;
            let pixel = picture.pixels[at];
            for (sum, value) in sum.iter_mut().zip([pixel.r(), pixel.g(), pixel.b()]) {
                *sum += u32::from(value);
            }
        }
        image::Rgb(sum.map(|s| (s / (SMALLER * SMALLER) as u32) as u8))
    })
}

/// The part of pixels that differ; all of them if the sizes do.
fn difference(a: &image::RgbImage, b: &image::RgbImage) -> f64 {
    if a.dimensions() != b.dimensions() {
        return 1.0;
    }
    let differs = |(a, b): &(&image::Rgb<u8>, &image::Rgb<u8>)| {
        a.0.iter().zip(b.0).any(|(a, b)| a.abs_diff(b) > SAME)
    };
    let n = a.pixels().zip(b.pixels()).filter(differs).count();
    n as f64 / (a.width() * a.height()) as f64
}

fn tell(driven: &mut Driven, message: impl Into<Message>) {
    driven.state_mut().as_mut().expect("the first pass makes the window").handle(message);
    driven.run_ok();
}

/// The window on the invented golfer, his recordings read.
fn open(library: PathBuf, painter: Painter) -> Driven {
    let options = Options { library: Some(library), files: Vec::new(), sample: true };
    let mut driven = drive(Harness::builder().renderer(painter), options);
    until(&mut driven, "the sample", |m| {
        m.queue.is_empty() && m.recordings.len() >= 2 && m.sheet == Some(Sheet::Guide(0))
    });
    driven
}

/// The screens, each with what leads to it and when it is all there.
fn screens(driven: &mut Driven, mut shot: impl FnMut(&mut Driven, &str)) {
    tell(driven, ScreenMessage::Open(Sheet::Guide(2)));
    until(driven, "what lies behind the guide", is_drawn);
    shot(driven, "guide");
    tell(driven, ScreenMessage::DismissGuide);
    let seen = |m: &Model| m.swings.iter().find(|s| s.recording.is_some()).map(|s| s.id);
    let first = driven.state().as_ref().and_then(|w| seen(w.model())).expect("a filmed swing");
    tell(driven, SwingMessage::ShowSwing(first));
    until(driven, "picture, film strip and sound", is_drawn);
    shot(driven, "picture");
    tell(driven, PictureMessage::ZoomToGround);
    shot(driven, "close-up");
    tell(driven, PictureMessage::Fit);
    for (sheet, name) in [
        (Sheet::Keys, "keys"),
        (Sheet::Settings, "settings"),
        (Sheet::Chooser, "chooser"),
        (Sheet::Reference, "reference"),
        (Sheet::Lens, "lens"),
        (Sheet::Budget(Quantity::DivotStart.into()), "budget"),
        (Sheet::Camera(CameraNumber::Height), "camera"),
    ] {
        tell(driven, ScreenMessage::Open(sheet));
        shot(driven, name);
        tell(driven, ScreenMessage::CloseSheet);
        // What a sheet was opened from is there again.
        tell(driven, ScreenMessage::CloseSheet);
    }
    tell(driven, ScreenMessage::Show(Page::Beside));
    until(driven, "the other picture", |m| m.beside.shown.is_some());
    shot(driven, "beside");
    for chapter in Chapter::ALL {
        tell(driven, NotebookMessage::Open(chapter));
        let name = format!("{chapter:?}").to_lowercase();
        until(driven, &name, |m| has_come(m, chapter));
        shot(driven, &name);
        if chapter == Chapter::Comparison {
            for (number, name) in
                [(ComparedNumber::Difference, "pooled"), (ComparedNumber::Spreads, "ratio")]
            {
                let shown = Shown::Compared(0, number);
                tell(driven, ScreenMessage::Open(Sheet::Shown(shown, Quantity::DivotStart)));
                shot(driven, name);
                tell(driven, ScreenMessage::CloseSheet);
            }
        }
    }
    tell(driven, ScreenMessage::Show(Page::Range));
    shot(driven, "range");
    tell(driven, ScreenMessage::Show(Page::Measure));
}

/// The picture, its place, the film and the sound are there.
fn is_drawn(m: &Model) -> bool {
    m.open.as_ref().is_some_and(|o| {
        o.shown.as_ref().is_some_and(|(f, _)| *f == o.frame)
            && !o.strip.asked.is_empty()
            && o.strip.film.len() >= o.strip.asked.len()
            && o.strip.sound.is_some()
            && o.motions.contains_key(&o.frame)
    })
}

/// What a chapter shows has been read.
pub fn has_come(m: &Model, chapter: Chapter) -> bool {
    let book = &m.notebook;
    match chapter {
        Chapter::Consistency => book.consistency.found.is_some(),
        Chapter::Comparison => book.comparison.found.is_some(),
        Chapter::Clubs => book.clubs.season.is_some(),
        Chapter::Drills => book.drills.found.is_some(),
        Chapter::People => book.people.swings.is_some(),
        Chapter::Tape => book.tape.found.is_some(),
        Chapter::Send => book.send.content.is_some(),
    }
}

#[test]
fn every_screen_looks_as_it_did_in_every_theme() {
    let folder = tempfile::tempdir().unwrap();
    let painter = Painter::default();
    let mut driven = open(folder.path().join("library.scuffline"), painter.clone());
    let renew = std::env::var_os("SCUFFLINE_RENEW_SCREENS").is_some();
    let mut faults = Vec::new();
    for theme in Theme::ALL {
        tell(&mut driven, SettingsMessage::SetTheme(theme));
        screens(&mut driven, |driven, name| {
            driven.remove_cursor();
            driven.run_ok();
            let picture = smaller(&painter.paint(&driven.ctx, driven.output()));
            let name = format!("{name}-{}.png", theme.words().to_lowercase());
            if renew {
                picture.save(stored(&name)).unwrap();
                return;
            }
            let before = image::open(stored(&name)).map(|known| known.to_rgb8());
            let differs = before.map_or(1.0, |known| difference(&known, &picture));
            if differs > MAY_DIFFER {
                let kept = std::env::temp_dir().join(format!("scuffline-{name}"));
                picture.save(&kept).unwrap();
                faults.push(format!(
                    "{name}: {:.2} % differ, see {}",
                    100.0 * differs,
                    kept.display()
                ));
            }
        });
    }
    assert!(faults.is_empty(), "{}", faults.join("\n"));
}

/// Height of the window.
const HIGH: f32 = 800.0;

/// Words of a pass that end in an ellipsis, or of which a part is not seen.
fn cut_off(driven: &Driven) -> Vec<String> {
    let mut cut = Vec::new();
    for clipped in &driven.output().shapes {
        words_cut_off(&clipped.shape, clipped.clip_rect, &mut cut);
    }
    cut
}

fn words_cut_off(shape: &Shape, clip: Rect, cut: &mut Vec<String>) {
    match shape {
        Shape::Vec(parts) => parts.iter().for_each(|part| words_cut_off(part, clip, cut)),
        Shape::Text(text) => {
            let seen = text.visual_bounding_rect();
            // Above and below there is more to scroll to.
            let is_there = seen.intersects(clip) && !text.galley.text().trim().is_empty();
            let is_whole = seen.left() + 1.0 >= clip.left() && seen.right() - 1.0 <= clip.right();
            // What is scrolled ends well before the window does.
            let is_lost = clip.bottom() > HIGH - 8.0 && seen.bottom() > HIGH;
            if is_there && (text.galley.elided || !is_whole) || is_lost {
                cut.push(text.galley.text().to_owned());
            }
        }
        _ => {}
    }
}

#[test]
fn no_words_are_cut_off_in_any_type() {
    let folder = tempfile::tempdir().unwrap();
    let mut driven = open(folder.path().join("library.scuffline"), Painter::default());
    let mut faults = Vec::new();
    for (theme, size) in [
        (Theme::Sun, TextSize::Large),
        (Theme::Sun, TextSize::Medium),
        (Theme::Light, TextSize::Small),
    ] {
        tell(&mut driven, SettingsMessage::SetTheme(theme));
        tell(&mut driven, SettingsMessage::SetTextSize(size));
        screens(&mut driven, |driven, name| {
            let mut cut = cut_off(driven);
            // What a session is called may be long; the pointer on it tells all of it.
            let called = &model(driven).people.sessions;
            cut.retain(|words| called.iter().all(|(_, title)| title != words));
            faults.extend(cut.into_iter().map(|words| format!("{name}, {size:?}: {words}")));
        });
    }
    assert!(faults.is_empty(), "{}", faults.join("\n"));
}

#[test]
fn a_changed_picture_is_noticed() {
    let plain = image::RgbImage::from_pixel(320, 200, image::Rgb([200, 200, 200]));
    let mut changed = plain.clone();
    assert_eq!(difference(&plain, &changed), 0.0);
    // A button's worth of pixels.
    for (x, y) in (0..20).flat_map(|x| (0..14).map(move |y| (x, y))) {
        changed.put_pixel(x, y, image::Rgb([100, 200, 200]));
    }
    assert!(difference(&plain, &changed) > MAY_DIFFER);
    assert_eq!(difference(&plain, &image::RgbImage::new(10, 10)), 1.0);
}
