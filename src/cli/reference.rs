//! `scuffline reference`: what of known size lies in a recording of the library, what was
//! proposed, and a person's yes or no.

use std::fmt::Write as _;
use std::io::Write;
use std::path::{Path, PathBuf};

use anyhow::{Context, bail};
use clap::Args;

use super::scan::recording_of;
use crate::domain::{LengthUnit, Millimetres, ReferenceKind, Setup, TypedLength};
use crate::store::Scope;
use crate::workflow::{
    carried_from, chosen_unit, evaluate_kept, reference_words, remeasure, set_up_anew,
};

/// Which recording, and what to do with what was proposed.
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  scuffline reference swing.mp4                    what is marked, what was found, the camera
  scuffline reference swing.mp4 --accept 1         measure by the first one found
  scuffline reference swing.mp4 --accept 1 --size 11x8.5in
  scuffline reference swing.mp4 --accept 2 --length 1000mm
  scuffline reference swing.mp4 --dismiss 1        it is none
  scuffline reference swing.mp4 --anew             the camera was moved: look again")]
pub struct ReferenceArgs {
    /// The recording; it must be in the library (see scuffline scan).
    #[arg(value_name = "RECORDING")]
    pub recording: PathBuf,

    /// Measure by the Nth of the objects found; with none, 1 is the mat's edge for the target line.
    #[arg(long, value_name = "N", conflicts_with_all = ["dismiss", "remove"])]
    pub accept: Option<usize>,

    /// A sheet's edges, the lower edge in the picture first, if not as proposed. A unit behind the
    /// second is that of both.
    #[arg(long, value_name = "AxB", requires = "accept", value_parser = TypedLength::edges)]
    pub size: Option<[TypedLength; 2]>,

    /// A stick's length, if not as proposed: taped is better than sold. Without a unit (mm, cm, m,
    /// in, ft), in the library's.
    #[arg(long, value_name = "LENGTH", requires = "accept", conflicts_with = "size", value_parser = TypedLength::of_thing)]
    pub length: Option<TypedLength>,

    /// The Nth of the objects found is none.
    #[arg(long, value_name = "N", conflicts_with = "remove")]
    pub dismiss: Option<usize>,

    /// Take the Nth of the marked objects away.
    #[arg(long, value_name = "N")]
    pub remove: Option<usize>,

    /// Leave the set-up that it shares to the other recordings, and look for known sizes in this one.
    #[arg(long, conflicts_with_all = ["accept", "dismiss", "remove"])]
    pub anew: bool,
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
    if args.anew {
        let is_own = carried_from(&library, row.id)?.is_none() && row.view_differs.is_none();
        let shared = library.shared_setup(row.id)?;
        // What was only found is found again.
        let marked = Setup { proposed: Vec::new(), proposed_line: None, ..shared };
        if is_own && marked.has_places() {
            bail!(
                "The set-up of this recording is its own; take single objects away with --remove N"
            );
        }
        set_up_anew(&mut library, row.id)?;
        remeasure(&mut library, row.id)?;
    }
    let mut setup = library.shared_setup(row.id)?;
    if let Some(what) = change(args, &mut setup, chosen_unit(&library)?)? {
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
        for line in crate::workflow::view_words(view, chosen_unit(&library)?) {
            let _ = writeln!(text, "{line}");
        }
    }
    for warning in evaluation.iter().flat_map(|e| &e.warnings) {
        let _ = writeln!(text, "Note: {}", warning.text());
    }
    Ok(writeln!(out, "{}", text.trim_end())?)
}

/// Changes the set-up as asked; `None`: nothing was asked.
fn change(
    args: &ReferenceArgs,
    setup: &mut Setup,
    unit: LengthUnit,
) -> anyhow::Result<Option<&'static str>> {
    let nth = |n: usize, of: usize, what: &str| {
        n.checked_sub(1).filter(|i| *i < of).with_context(|| match of {
            0 => {
                format!("Nothing was {what} here; mark a known size in the window or a set-up file")
            }
            1 => format!("One object was {what}; there is no {n}"),
            _ => format!("{of} objects were {what}, counted from 1; there is no {n}"),
        })
    };
    if setup.asked_line().is_some() && args.accept.or(args.dismiss) == Some(1) {
        return Ok(Some(answer_line(args, setup)?));
    }
    if let Some(n) = args.accept {
        let at = nth(n, setup.proposed.len(), "found")?;
        let mut reference = setup.proposed.remove(at).reference;
        if let Some(edges) = args.size {
            let ReferenceKind::Sheet { size, .. } = &mut reference.kind else {
                bail!("Only a sheet has two edges; leave --size away");
            };
            *size = edges.map(|edge| Millimetres(edge.mm(unit)));
        }
        if let Some(taped) = args.length {
            let ReferenceKind::Line { length, .. } = &mut reference.kind else {
                bail!("Only a stick has a length; leave --length away");
            };
            *length = Millimetres(taped.mm(unit));
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
