//! Lenses found once and kept in the library, to be used with other recordings of the same phone.

use crate::domain::{FrameIndex, ImagePoint, LensProfile, PictureSize, Pictures, Setup};
use crate::geometry::{Board, fit_lens_from_boards};
use crate::store::{
    CameraProfile, CameraProfileId, Library, RecordingId, Result, Scope, StoreError,
};

use crate::vision::find_chessboard;

use super::evaluate::lens_of_edges;
use super::kept::{facts_of, steady_kept};
use super::kept_error::KeptError;
use super::measure::MeasureError;

/// A lens of the library.
#[derive(Clone, Debug, PartialEq)]
pub struct KeptLens {
    /// Its number.
    pub id: CameraProfileId,
    /// As the person calls it.
    pub name: String,
    /// Maker and model of the phone, as its files say; empty: they do not.
    pub camera: String,
    /// What is known of it.
    pub lens: LensProfile,
}

/// All lenses of the library by name; those that can't be read are passed over.
///
/// # Errors
/// The library can't be read.
pub fn kept_lenses(library: &Library) -> Result<Vec<KeptLens>> {
    let kept = library.camera_profiles()?.into_iter().filter_map(|(id, profile)| {
        let lens = serde_json::from_str(&profile.lens).ok()?;
        Some(KeptLens { id, name: profile.name, camera: profile.camera, lens })
    });
    Ok(kept.collect())
}

/// The lenses found with a phone of that name and in pictures of that shape. Which of a phone's
/// lenses was used its files rarely say, so a person chooses.
///
/// # Errors
/// The library can't be read.
pub fn offered_lenses(
    library: &Library,
    camera: Option<&str>,
    size: PictureSize,
) -> Result<Vec<KeptLens>> {
    let Some(camera) = camera else { return Ok(Vec::new()) };
    let mut lenses = kept_lenses(library)?;
    lenses.retain(|kept| kept.camera == camera && kept.lens.fits(size));
    Ok(lenses)
}

/// The lenses that could have made a recording of the library, and what its straight edges tell.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct LensChoice {
    /// Maker and model of the phone, as the file says; empty: it does not.
    pub camera: String,
    /// Lenses found with that phone.
    pub offered: Vec<KeptLens>,
    /// Lenses of other phones, or of none named.
    pub others: Vec<KeptLens>,
    /// What the straight edges of the set-up tell, in words; `None` without edges.
    pub edges: Option<std::result::Result<String, String>>,
}

/// What can be chosen for a recording, of the lenses found in pictures of its shape.
///
/// # Errors
/// The library can't be read.
pub fn lens_choice(library: &Library, recording: RecordingId) -> Result<LensChoice> {
    let row = library.recording(recording)?;
    let Some(facts) = facts_of(&row) else { return Ok(LensChoice::default()) };
    let size = PictureSize { width: facts.width, height: facts.height };
    let offered = offered_lenses(library, facts.camera.as_deref(), size)?;
    let mut others = kept_lenses(library)?;
    others.retain(|kept| kept.lens.fits(size) && offered.iter().all(|o| o.id != kept.id));
    let setup = library.shared_setup(recording)?;
    let edges = (!setup.straight_edges.is_empty()).then(|| {
        let found = lens_of_edges(&setup, size);
        found.map(|lens| lens_words(&lens)).map_err(|error| error.to_string())
    });
    Ok(LensChoice { camera: facts.camera.unwrap_or_default(), offered, others, edges })
}

/// Keeps the lens that a recording's straight edges tell, and measures the recording by it.
///
/// # Errors
/// The edges tell no lens; or the library or the recording can't be read. Nothing is kept then.
pub fn keep_lens_of_edges(
    library: &mut Library,
    recording: RecordingId,
    name: &str,
) -> std::result::Result<(), KeptError> {
    let row = library.recording(recording)?;
    let missing = StoreError::Missing { what: "frame table of this recording" };
    let (Some(facts), Some(timeline)) = (facts_of(&row), library.timeline(recording)?) else {
        return Err(missing.into());
    };
    let (setup, _) = steady_kept(library, library.shared_setup(recording)?, &row, &timeline)?;
    let size = PictureSize { width: facts.width, height: facts.height };
    let lens = lens_of_edges(&setup, size)?;
    keep_lens(library, name, facts.camera.as_deref(), &lens)?;
    let same = |kept: &KeptLens| kept.name.eq_ignore_ascii_case(name.trim());
    let kept = kept_lenses(library)?.into_iter().find(same);
    Ok(use_lens(library, recording, kept.as_ref())?)
}

/// Keeps a lens under a name, in the place of one that has it.
///
/// # Errors
/// The library can't be written.
pub fn keep_lens(
    library: &mut Library,
    name: &str,
    camera: Option<&str>,
    lens: &LensProfile,
) -> Result<()> {
    let text =
        serde_json::to_string(lens).map_err(|_| StoreError::BadValue { what: "lens profile" })?;
    let profile = CameraProfile {
        name: name.trim().into(),
        camera: camera.unwrap_or_default().into(),
        lens: text,
        notes: String::new(),
    };
    let same: Vec<CameraProfileId> = kept_lenses(library)?
        .into_iter()
        .filter(|kept| kept.name.eq_ignore_ascii_case(&profile.name))
        .map(|kept| kept.id)
        .collect();
    library.edit(Scope::Library, &format!("lens {}", profile.name), |edit| {
        same.iter().try_for_each(|id| edit.remove_camera_profile(*id))?;
        edit.add_camera_profile(&profile).map(|_| ())
    })
}

/// Measures a recording, and all that share its standing of the camera, by this lens; `None`: by
/// none. What was set up keeps its numbers when the lens is forgotten later.
///
/// # Errors
/// There is no such recording, or the library can't be written.
pub fn use_lens(
    library: &mut Library,
    recording: RecordingId,
    lens: Option<&KeptLens>,
) -> Result<()> {
    let session = library.recording(recording)?.session;
    let setup =
        Setup { lens: lens.map(|kept| kept.lens.clone()), ..library.shared_setup(recording)? };
    library.edit(Scope::Session(session), "lens", |edit| {
        let standing = edit.set_setup(recording, &setup)?;
        edit.use_camera_profile(standing, lens.map(|kept| kept.id))
    })
}

/// How many frames of a recording of a chessboard are looked at.
const LOOKS: usize = 60;
/// Views that differ by less than this part of the long side tell nothing new.
const NEW_VIEW: f64 = 0.03;
/// More views take longer and tell little more.
const MOST_VIEWS: usize = 20;

/// The lens that a chessboard of `columns` by `rows` inner corners tells, held into the picture in
/// several ways, and in how many views it was seen.
///
/// # Errors
/// A picture can't be read; or the board was seen whole in fewer than three different ways.
pub fn lens_of_board(
    pictures: &mut dyn Pictures,
    columns: usize,
    rows: usize,
) -> std::result::Result<(LensProfile, usize), MeasureError> {
    let frames = pictures.timeline().len();
    let size = pictures.size();
    let new = NEW_VIEW * size.width.max(size.height) as f64;
    let mut views: Vec<Vec<ImagePoint>> = Vec::new();
    let looks = LOOKS.min(frames);
    for look in 0..looks {
        let frame = FrameIndex(look * (frames - 1) / (looks - 1).max(1));
        let Some(view) = find_chessboard(&*pictures.gray(frame)?, columns, rows) else { continue };
        let apart = |other: &Vec<ImagePoint>| {
            view.iter().zip(other).map(|(a, b)| a.distance(*b)).fold(0.0, f64::max)
        };
        if views.iter().all(|known| apart(known) > new) && views.len() < MOST_VIEWS {
            views.push(view);
        }
    }
    let lens = fit_lens_from_boards(size, Board { columns, rows }, &views)?;
    Ok((lens, views.len()))
}

/// "1.2 % barrel at the corner ± 0.3, marks fit within 0.2 px": a lens in words.
pub fn lens_words(lens: &LensProfile) -> String {
    // Half the diagonal over the long side.
    let (w, h) = (lens.size.width as f64, lens.size.height as f64);
    let q = (w * w + h * h) / (2.0 * w.max(h)).powi(2);
    let [a, b] = lens.radial;
    let bend = 100.0 * (a.value * q + b.value * q * q);
    let (sa, sb) = (100.0 * a.standard * q, 100.0 * b.standard * q * q);
    let doubt = 2.0 * (sa * sa + sb * sb + 2.0 * lens.correlation * sa * sb).max(0.0).sqrt();
    let kind = if bend < 0.0 { "barrel" } else { "pincushion" };
    let focal = lens.focal.map_or(String::new(), |f| {
        format!(", focal length {:.3} ± {:.3} long sides", f.value, 2.0 * f.standard)
    });
    format!(
        "{:.1} % {kind} at the corner ± {doubt:.1}{focal}, marks fit within {:.1} px",
        bend.abs(),
        lens.residual
    )
}
