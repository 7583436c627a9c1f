//! Expanding and wording a result, once for all who show it.

use std::path::Path;

use crate::domain::{
    Club, ContactOrder, Interval, LengthUnit, Measured, Quantity, Reference, SwingKind,
    SwingNumber, SwingResult, Warning,
};
use crate::geometry::{GroundView, Pickup, coverage_factor, expand, pickup};
use crate::report::picture::OnGround;
use crate::report::ruler::Place;
use crate::stats::SwingOffsets;
use crate::store::{Library, StoreError};

/// Under which key the window keeps what the person likes.
pub const WINDOW_SETTINGS: &str = "window";

/// A value ready to be shown: with its 95 % interval.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Stated {
    /// The value, in the unit of the [`Measured`] it came from.
    pub value: f64,
    /// Its 95 % interval.
    pub interval: Interval,
}

impl Stated {
    /// What stands behind the ± in words: where the interval reaches farther to one side, that
    /// far, so that what is read leaves nothing of it out.
    pub fn plus_minus(&self) -> f64 {
        self.interval.reach(self.value)
    }
}

/// Expands a result's budget to 95 %.
pub fn state(measured: &Measured) -> Stated {
    Stated { value: measured.value, interval: expand(measured) }
}

/// A result as a place on a ruler.
pub fn on_ruler(measured: &Measured) -> Place {
    let interval = expand(measured);
    Place { value: measured.value, interval_95: [interval.low, interval.high] }
}

/// What the ruler on the ground shows of a swing.
pub fn on_ground(
    result: Option<&SwingResult>,
    aim: Option<[f64; 2]>,
    unit: LengthUnit,
) -> OnGround {
    OnGround {
        start: result.and_then(|r| r.divot_start_offset.as_ref()).map(on_ruler),
        end: result.and_then(|r| r.divot_end_offset.as_ref()).map(on_ruler),
        low_point: result.and_then(|r| r.low_point.as_ref()).map(|(m, _)| on_ruler(m)),
        aim,
        unit,
        seen: None,
    }
}

/// How a budget becomes a ±.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Expansion {
    /// The combined standard uncertainty, in the unit of the [`Measured`] it came from.
    pub standard: f64,
    /// The effective degrees of freedom; `None`: infinite, since no part was estimated from few
    /// observations.
    pub freedom: Option<f64>,
    /// What the standard uncertainty is multiplied by; `None` where the interval was drawn instead.
    pub factor: Option<f64>,
}

/// How this number's ± came about.
pub fn expansion(measured: &Measured) -> Expansion {
    let freedom = measured.effective_freedom();
    let linear = measured.monte_carlo.is_none();
    Expansion {
        standard: measured.standard_uncertainty(),
        freedom,
        factor: linear.then(|| coverage_factor(freedom)),
    }
}

/// A number of a swing in words, with its ±: "58 mm ahead ± 4", "3 mm over the ground ± 2",
/// "85 mm behind the lead heel ± 5", "70 % of the way from trail to lead heel ± 2".
pub fn number_words(number: SwingNumber, stated: &Stated, unit: LengthUnit) -> String {
    let half = length_words(stated.plus_minus(), unit);
    let beside = |what| format!("{} {what} ± {half}", beside_words(stated.value, unit));
    match number {
        SwingNumber::Collected(Quantity::AttackAngle) => words_for_attack(stated),
        SwingNumber::Collected(_) | SwingNumber::PredictedContact | SwingNumber::ReachLine => {
            words_for_offset(stated, unit)
        }
        SwingNumber::HeightAtBall => {
            let size = length_words(stated.value.abs(), unit);
            let side = if stated.value < 0.0 { "below" } else { "over" };
            format!("{size} {} {side} the ground ± {half}", unit.short_name())
        }
        SwingNumber::ArcRadius => {
            format!("{} {} ± {half}", length_words(stated.value, unit), unit.short_name())
        }
        SwingNumber::ArcPlane => {
            format!("{:.1}° from the ground ± {:.1}°", stated.value, stated.plus_minus())
        }
        SwingNumber::FromLeadHeel => beside("the lead heel"),
        SwingNumber::FromTrailHeel => beside("the trail heel"),
        SwingNumber::StartFromReachLine => beside("the reach line"),
        SwingNumber::StanceShare => format!(
            "{:.0} % of the way from trail to lead heel ± {:.0}",
            stated.value,
            stated.plus_minus()
        ),
    }
}

/// "58 mm ahead ± 4": an offset in words, in the unit chosen.
pub fn words_for_offset(stated: &Stated, unit: LengthUnit) -> String {
    let half = length_words(stated.plus_minus(), unit);
    format!("{} ± {half}", place_words(stated.value, unit))
}

/// "58 mm ahead", "12 mm behind", "level with the ball": where an offset in mm lies.
///
/// ```
/// use scuffline::domain::LengthUnit;
/// use scuffline::workflow::place_words;
///
/// assert_eq!(place_words(58.2, LengthUnit::Mm), "58 mm ahead");
/// assert_eq!(place_words(-58.2, LengthUnit::Cm), "5.8 cm behind");
/// ```
pub fn place_words(offset_mm: f64, unit: LengthUnit) -> String {
    let size = length_words(offset_mm.abs(), unit);
    if size.parse::<f64>() == Ok(0.0) {
        return "level with the ball".to_owned();
    }
    let side = if offset_mm > 0.0 { "ahead" } else { "behind" };
    format!("{size} {} {side}", unit.short_name())
}

/// "an A4 sheet", "a stick of 1219 mm", as in "scale from …".
pub fn reference_words(reference: &Reference, unit: LengthUnit) -> String {
    reference.kind.phrase(&|mm| lengths_words(mm, unit))
}

/// "A4 sheet", "stick of 1219 mm", as in a list.
pub fn reference_title(reference: &Reference, unit: LengthUnit) -> String {
    reference.kind.title(&|mm| lengths_words(mm, unit))
}

/// "500 x 400 mm".
fn lengths_words(mm: &[f64], unit: LengthUnit) -> String {
    let all: Vec<String> = mm.iter().map(|mm| length_words(*mm, unit)).collect();
    format!("{} {}", all.join(" x "), unit.short_name())
}

/// A warning with its places in the unit that is shown.
pub fn warning_words(warning: &Warning, unit: LengthUnit) -> String {
    warning.text_with(&|mm| place_words(mm, unit), unit)
}

/// "58 mm ahead of", "12 mm behind", "level with": beside something other than the ball.
fn beside_words(mm: f64, unit: LengthUnit) -> String {
    let size = length_words(mm.abs(), unit);
    match size.parse::<f64>() {
        Ok(0.0) => "level with".into(),
        _ if mm > 0.0 => format!("{size} {} ahead of", unit.short_name()),
        _ => format!("{size} {} behind", unit.short_name()),
    }
}

/// "6 mm over the ground ± 4: picked clean", for a strike without ground contact whose arc is
/// known; `None` for every other swing, those off a tee included.
pub fn clearance_words(
    result: &SwingResult,
    club: Option<&Club>,
    on_tee: bool,
    unit: LengthUnit,
) -> Option<String> {
    let swing = SwingOffsets { club: club.cloned(), on_tee, ..SwingOffsets::of(result) };
    clearance_of(&swing, unit)
}

/// The same for a swing as statistics see it.
pub fn clearance_of(swing: &SwingOffsets, unit: LengthUnit) -> Option<String> {
    let club = swing.club.as_ref();
    let untouched = swing.contact_order == Some(ContactOrder::NoGroundContact);
    if swing.kind != SwingKind::Strike || !untouched || swing.on_tee {
        return None;
    }
    let height = swing.height_at_ball.as_ref()?;
    let half = length_words(state(height).plus_minus(), unit);
    let size = length_words(height.value.abs(), unit);
    let side = if height.value < 0.0 { "below" } else { "over" };
    let verdict = match pickup(height, club) {
        Pickup::Clean => "picked clean",
        Pickup::Thin => "thin",
        Pickup::TooClose => "clean or thin: too close to call",
    };
    Some(format!("{size} {} {side} the ground ± {half}: {verdict}", unit.short_name()))
}

/// "2.7° down", "1.0° up", "level": an attack angle in degrees.
pub fn attack_words(degrees: f64) -> String {
    match format!("{:.1}", degrees.abs()) {
        zero if zero == "0.0" => "level".into(),
        size if degrees < 0.0 => format!("{size}° down"),
        size => format!("{size}° up"),
    }
}

/// "2.7° down ± 0.6°": an attack angle with its doubt.
pub fn words_for_attack(stated: &Stated) -> String {
    format!("{} ± {:.1}°", attack_words(stated.value), stated.plus_minus())
}

/// The unit of lengths that the person chose in the window; millimetres until then.
///
/// # Errors
/// The library can't be read.
pub fn chosen_unit(library: &Library) -> Result<LengthUnit, StoreError> {
    Ok(chosen(library, "unit")?.unwrap_or(LengthUnit::Mm))
}

/// The unit chosen in the library at `path`, which is only looked at; millimetres without one.
pub fn unit_at(path: &Path) -> LengthUnit {
    setting_named(Library::glance_at_setting(path, WINDOW_SETTINGS), "unit").unwrap_or_default()
}

/// Chooses the unit of lengths for everything that is shown from now on.
///
/// # Errors
/// The library can't be written.
pub fn choose_unit(library: &mut Library, unit: LengthUnit) -> Result<(), StoreError> {
    let bad = |_| StoreError::BadValue { what: "settings" };
    let kept = library.setting(WINDOW_SETTINGS)?;
    let kept = kept.and_then(|text| serde_json::from_str(&text).ok());
    let mut settings: serde_json::Map<String, serde_json::Value> = kept.unwrap_or_default();
    settings.insert("unit".into(), serde_json::to_value(unit).map_err(bad)?);
    let text = serde_json::to_string(&settings).map_err(bad)?;
    library.save(|edit| edit.set_setting(WINDOW_SETTINGS, &text))
}

/// How sure the program must be to leave a person alone, as chosen in the window; `None`: the
/// usual threshold.
///
/// # Errors
/// The library can't be read.
pub fn chosen_threshold(library: &Library) -> Result<Option<f64>, StoreError> {
    Ok(chosen(library, "review_below")?.filter(|share| (0.0..=1.0).contains(share)))
}

/// One of the settings that the window keeps.
fn chosen<T: serde::de::DeserializeOwned>(
    library: &Library,
    name: &str,
) -> Result<Option<T>, StoreError> {
    Ok(setting_named(library.setting(WINDOW_SETTINGS)?, name))
}

fn setting_named<T: serde::de::DeserializeOwned>(kept: Option<String>, name: &str) -> Option<T> {
    let settings: serde_json::Value = serde_json::from_str(&kept?).ok()?;
    serde_json::from_value(settings.get(name)?.clone()).ok()
}

/// What is known of the camera and of how the references fit, one sentence each: "Camera 1.1 m
/// high, 3.4 m away, turned 1.6° to the right, …", "The sheet's marks fit within 0.3 px.".
pub fn view_words(view: &GroundView, unit: LengthUnit) -> Vec<String> {
    let told = view.references.iter().filter(|fit| fit.is_checked);
    // Nothing fits within nothing.
    let fits = told.map(|fit| {
        format!("The marks of the {} fit within {:.1} px.", fit.which, fit.residual.max(0.1))
    });
    std::iter::once(view.pose().words(unit)).chain(fits).collect()
}

/// A length's number alone, rounded as its unit deserves.
pub fn length_words(mm: f64, unit: LengthUnit) -> String {
    let decimals = unit.decimals();
    format!("{:.decimals$}", unit.from_mm(mm))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_untouched_ground_shows_how_high_the_edge_passed() {
        let height = Measured::new(
            3.0,
            vec![crate::domain::Contribution::new(crate::domain::Source::ArcFit, 1.0)],
        );
        let swing = SwingOffsets {
            contact_order: Some(ContactOrder::NoGroundContact),
            height_at_ball: Some(height),
            club: Some(Club("7-iron".into())),
            ..SwingOffsets::without_numbers(SwingKind::Strike)
        };
        let words = clearance_of(&swing, LengthUnit::Mm);
        assert_eq!(words.as_deref(), Some("3 mm over the ground ± 2: picked clean"));
        // Off a tee the ground says nothing of the strike.
        let teed = SwingOffsets { on_tee: true, ..swing.clone() };
        assert_eq!(clearance_of(&teed, LengthUnit::Mm), None);
        let cut = SwingOffsets { contact_order: Some(ContactOrder::BallFirst), ..swing };
        assert_eq!(clearance_of(&cut, LengthUnit::Mm), None);
    }

    #[test]
    fn every_number_is_told_with_its_doubt() {
        let stated =
            |value| Stated { value, interval: Interval { low: value - 5.0, high: value + 5.0 } };
        for (number, value, words) in [
            (SwingNumber::HeightAtBall, 3.0, "3 mm over the ground ± 5"),
            (SwingNumber::HeightAtBall, -2.0, "2 mm below the ground ± 5"),
            (SwingNumber::FromLeadHeel, -85.0, "85 mm behind the lead heel ± 5"),
            (SwingNumber::FromTrailHeel, 210.0, "210 mm ahead of the trail heel ± 5"),
            (SwingNumber::StanceShare, 70.2, "70 % of the way from trail to lead heel ± 5"),
            (SwingNumber::ReachLine, 75.0, "75 mm ahead ± 5"),
            (SwingNumber::StartFromReachLine, -15.0, "15 mm behind the reach line ± 5"),
            (SwingNumber::PredictedContact, 40.0, "40 mm ahead ± 5"),
        ] {
            assert_eq!(number_words(number, &stated(value), LengthUnit::Mm), words);
        }
    }

    #[test]
    fn few_observations_widen_and_say_so() {
        // JCGM 100:2008, table G.2: t at 95 % is 2.57 for 5 degrees of freedom, 2.23 for 10.
        let part = |freedom| crate::domain::Contribution {
            source: crate::domain::Source::Model,
            standard: 2.0,
            freedom: Some(freedom),
        };
        for (freedom, t) in [(5.0, 2.57), (10.0, 2.23)] {
            let of = expansion(&Measured::new(0.0, vec![part(freedom)]));
            assert_eq!((of.standard, of.freedom), (2.0, Some(freedom)));
            assert!((of.factor.unwrap() - t).abs() < 0.005, "{of:?}");
        }
        let mut drawn = Measured::new(0.0, vec![part(5.0)]);
        drawn.monte_carlo = Some(Interval { low: -3.0, high: 6.0 });
        assert_eq!(expansion(&drawn).factor, None);
    }

    #[test]
    fn signs_are_spelled_out() {
        let stated =
            |value| Stated { value, interval: Interval { low: value - 4.0, high: value + 4.0 } };
        let check =
            |value, unit, words: &str| assert_eq!(words_for_offset(&stated(value), unit), words);
        check(58.2, LengthUnit::Mm, "58 mm ahead ± 4");
        check(-12.4, LengthUnit::Mm, "12 mm behind ± 4");
        check(-0.3, LengthUnit::Mm, "level with the ball ± 4");
        check(-58.2, LengthUnit::Cm, "5.8 cm behind ± 0.4");
        check(50.8, LengthUnit::Inch, "2.0 in ahead ± 0.2");
        let attack = Stated { value: -2.66, interval: Interval { low: -3.26, high: -2.06 } };
        assert_eq!(words_for_attack(&attack), "2.7° down ± 0.6°");
        assert_eq!(beside_words(58.2, LengthUnit::Cm), "5.8 cm ahead of");
        assert_eq!(beside_words(-0.2, LengthUnit::Mm), "level with");
    }
}
