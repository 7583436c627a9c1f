//! `scuffline coverage`: does the ± keep its word? Simulated set-ups through the real code.

use std::io::Write;

use anyhow::bail;

use crate::geometry::{Cameras, Coverage, Ruler, coverage};

/// What to simulate.
#[derive(Debug, clap::Args)]
#[command(after_help = "Example:\n  scuffline coverage --count 1000")]
pub struct CoverageArgs {
    /// How many set-ups for each calibration.
    #[arg(long, default_value_t = 1000, value_parser = clap::value_parser!(u32).range(1..))]
    pub count: u32,

    /// Where the random numbers start.
    #[arg(long, default_value_t = 1)]
    pub seed: u64,

    /// Only what is calibrated by this, as the table names it, such as "ball alone".
    #[arg(long, value_name = "CALIBRATION")]
    pub only: Option<String>,

    /// Which cameras the set-ups have.
    #[arg(long, value_enum, default_value_t = Spread::AsAssumed)]
    pub cameras: Spread,
}

/// Which cameras are simulated.
#[derive(Clone, Copy, Debug, clap::ValueEnum)]
pub enum Spread {
    /// As widely spread as the calibration assumes before it looks.
    AsAssumed,
    /// Of one narrow kind that the calibration is not told about.
    OneKind,
}

impl Spread {
    fn simulated(self) -> Cameras {
        match self {
            Self::AsAssumed => Cameras::AsAssumed,
            Self::OneKind => Cameras::OneKind,
        }
    }

    fn words(self) -> &'static str {
        match self {
            Self::AsAssumed => "Cameras as widely spread as the calibration assumes",
            Self::OneKind => "Cameras of one kind that the calibration is not told about",
        }
    }
}

/// Simulates set-ups, measures them and prints how often the 95 % intervals held the truth, as a
/// table in Markdown.
///
/// # Errors
/// There is no such calibration; the table can't be written.
pub fn run(args: &CoverageArgs, out: &mut dyn Write) -> anyhow::Result<()> {
    let wanted = |ruler: &Ruler| args.only.as_ref().is_none_or(|only| ruler.words() == only);
    let rulers: Vec<Ruler> = Ruler::ALL.into_iter().filter(wanted).collect();
    if rulers.is_empty() {
        let all = Ruler::ALL.map(Ruler::words).join("; ");
        bail!("There is no such calibration; choose one of these: {all}");
    }
    writeln!(out, "{}, {} set-ups a row:\n", args.cameras.words(), args.count)?;
    writeln!(out, "| calibration | quantity | held | median error | median ± |")?;
    writeln!(out, "|---|---|---|---|---|")?;
    let tables = simulated(args, &rulers);
    for (ruler, row) in rulers.iter().zip(&tables).flat_map(|(r, t)| t.iter().map(move |c| (r, c)))
    {
        writeln!(
            out,
            "| {} | {} | {:.1} % | {:.2} | {:.2} |",
            ruler.words(),
            row.quantity,
            100.0 * row.share(),
            row.median_error,
            row.median_half_width
        )?;
    }
    writeln!(out)?;
    Ok(out.flush()?)
}

/// One table for each calibration, each on a thread of its own: they take minutes.
fn simulated(args: &CoverageArgs, rulers: &[Ruler]) -> Vec<Vec<Coverage>> {
    let (cameras, count) = (args.cameras.simulated(), args.count as usize);
    std::thread::scope(|scope| {
        let of = |ruler| scope.spawn(move || coverage(ruler, cameras, count, args.seed));
        let jobs: Vec<_> = rulers.iter().copied().map(of).collect();
        jobs.into_iter()
            .map(|job| job.join().unwrap_or_else(|panic| std::panic::resume_unwind(panic)))
            .collect()
    })
}
