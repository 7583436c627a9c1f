//! `scuffline reference`: what of known size lies in a recording of the library, what was
//! proposed, and a person's yes or no.

use std::fmt::Write as _;
use std::io::Write;
use std::path::{Path, PathBuf};

use anyhow::{Context, bail};
use clap::Args;

use super::scan::recording_of;
use crate::domain::{Millimetres, ReferenceKind, Setup};
use crate::store::Scope;
use crate::workflow::{chosen_unit, evaluate_kept, reference_words, remeasure};

/// Which recording, and what to do with what was proposed.
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  scuffline reference swing.mp4                    what is marked, what was found, the camera
  scuffline reference swing.mp4 --accept 1         measure by the first one found
  scuffline reference swing.mp4 --accept 1 --size 279.4x215.9
  scuffline reference swing.mp4 --accept 2 --length 1000
  scuffline reference swing.mp4 --dismiss 1        it is none")]
pub struct ReferenceArgs {
    /// The recording; it must be in the library (see scuffline scan).
    #[arg(value_name = "RECORDING")]
    pub recording: PathBuf,

    /// Measure by the Nth of the objects found; with none, 1 is the mat's edge for the target line.
    #[arg(long, value_name = "N", conflicts_with_all = ["dismiss", "remove"])]
    pub accept: Option<usize>,

    /// A sheet's edges in mm, the lower edge in the picture first, if not as proposed.
    #[arg(long, value_name = "AxB", requires = "accept", value_parser = size)]
    pub size: Option<[f64; 2]>,

    /// A stick's length in mm, if not as proposed: taped is better than sold.
    #[arg(long, value_name = "MM", requires = "accept", conflicts_with = "size", value_parser = length)]
    pub length: Option<f64>,

    /// The Nth of the objects found is none.
    #[arg(long, value_name = "N", conflicts_with = "remove")]
    pub dismiss: Option<usize>,

    /// Take the Nth of the marked objects away.
    #[arg(long, value_name = "N")]
    pub remove: Option<usize>,
}

fn millimetres(text: &str) -> Option<f64> {
    text.trim().parse::<f64>().ok().filter(|mm| mm.is_finite() && *mm > 0.0)
}

fn size(text: &str) -> Result<[f64; 2], String> {
    text.split_once('x')
        .and_then(|(a, b)| Some([millimetres(a)?, millimetres(b)?]))
        .ok_or_else(|| "two edges in mm, as in 297x210".into())
}

fn length(text: &str) -> Result<f64, String> {
    millimetres(text).ok_or_else(|| "a length in mm above zero, as in 1219.2".into())
}

/// Carries out what was asked as one step that can be undone, measures anew and prints what is
/// known of the recording's ground.
///
/// # Errors
/// The recording is not in the library, or there is no such object; nothing is changed then.
pub fn run(
    args: &ReferenceArgs,
    library: Option<&Path>,
    out: &mut dyn Write,
) -> anyhow::Result<()> {
    let mut library = super::open_library(library)?;
    let row = recording_of(&library, &args.recording)?;
    let mut setup = library.shared_setup(row.id)?;
    if let Some(what) = change(args, &mut setup)? {
        library.edit(Scope::Session(row.session), what, |edit| edit.set_setup(row.id, &setup))?;
        remeasure(&mut library, row.id)?;
    }
    let unit = chosen_unit(&library)?;
    let mut text = String::new();
    list(&mut text, "marked", setup.references.iter().map(|r| reference_words(r, unit)));
    list(
        &mut text,
        "found, not confirmed",
        setup.proposed.iter().map(|p| {
            format!("{} ({:.0} % sure)", reference_words(&p.reference, unit), 100.0 * p.confidence)
        }),
    );
    list(
        &mut text,
        "found, not confirmed",
        setup.asked_line().into_iter().map(|line| {
            format!("a mat's edge for the target line ({:.0} % sure)", 100.0 * line.confidence)
        }),
    );
    let evaluation = evaluate_kept(&library, row.id)?;
    if let Some(view) = evaluation.as_ref().and_then(|e| e.view.as_ref()) {
        for line in crate::workflow::view_words(view) {
            let _ = writeln!(text, "{line}");
        }
    }
    for warning in evaluation.iter().flat_map(|e| &e.warnings) {
        let _ = writeln!(text, "Note: {}", warning.text());
    }
    Ok(writeln!(out, "{}", text.trim_end())?)
}

/// Changes the set-up as asked; `None`: nothing was asked.
fn change(args: &ReferenceArgs, setup: &mut Setup) -> anyhow::Result<Option<&'static str>> {
    let nth = |n: usize, of: usize, what: &str| {
        n.checked_sub(1).filter(|i| *i < of).with_context(|| {
            format!("There are {of} {what} objects, counted from 1; there is no {n}")
        })
    };
    if setup.asked_line().is_some() && args.accept.or(args.dismiss) == Some(1) {
        return Ok(Some(answer_line(args, setup)?));
    }
    if let Some(n) = args.accept {
        let at = nth(n, setup.proposed.len(), "found")?;
        let mut reference = setup.proposed.remove(at).reference;
        if let Some(mm) = args.size {
            let ReferenceKind::Sheet { size, .. } = &mut reference.kind else {
                bail!("Only a sheet has two edges; leave --size away");
            };
            *size = mm.map(Millimetres);
        }
        if let Some(mm) = args.length {
            let ReferenceKind::Line { length, .. } = &mut reference.kind else {
                bail!("Only a stick has a length; leave --length away");
            };
            *length = Millimetres(mm);
        }
        setup.references.push(reference);
        return Ok(Some("proposed reference object"));
    }
    if let Some(n) = args.dismiss {
        setup.proposed.remove(nth(n, setup.proposed.len(), "found")?);
        return Ok(Some("proposed reference object"));
    }
    if let Some(n) = args.remove {
        setup.references.remove(nth(n, setup.references.len(), "marked")?);
        return Ok(Some("reference object"));
    }
    Ok(None)
}

/// A mat's edge is asked about when nothing else is.
fn answer_line(args: &ReferenceArgs, setup: &mut Setup) -> anyhow::Result<&'static str> {
    if args.size.is_some() || args.length.is_some() {
        bail!("A mat's edge tells the target line alone; leave the size away");
    }
    if args.accept.is_some() {
        setup.take_proposed_line();
    } else {
        setup.proposed_line = None;
    }
    Ok("target line")
}

fn list(text: &mut String, title: &str, items: impl Iterator<Item = String>) {
    for (i, item) in items.enumerate() {
        let _ = writeln!(text, "{title} {}: {item}", i + 1);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sizes_are_two_lengths() {
        assert_eq!(size("279.4x215.9"), Ok([279.4, 215.9]));
        for wrong in ["297", "297x", "0x210", "-297x210", "nanx2"] {
            assert!(size(wrong).is_err(), "{wrong}");
        }
    }
}
