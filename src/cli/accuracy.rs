//! `scuffline accuracy`: how well recordings with known truth are measured.

use std::fmt::Write as _;
use std::io::Write;
use std::path::PathBuf;

use clap::Args;

use crate::workflow::accuracy::{
    Claim, Given, Judged, Outcome, RecordingAccuracy, SwingAccuracy, judge_folder,
};

/// Which folder to judge.
#[derive(Debug, Args)]
#[command(after_help = "\
Examples:
  scuffline accuracy sample-frames
  scuffline accuracy sample-frames --nothing-given

Each recording NAME.mp4 needs its truth NAME.truth.json beside it. How to read the table is
described in docs/accuracy.md.")]
pub struct AccuracyArgs {
    /// The folder.
    #[arg(value_name = "FOLDER")]
    pub folder: PathBuf,

    /// Give the program the recordings alone, without the reference objects' pixels.
    #[arg(long)]
    pub nothing_given: bool,
}

/// Judges a folder and prints a line for each swing and the sums.
///
/// # Errors
/// One sentence: the folder or a truth file can't be read.
pub fn run(args: &AccuracyArgs, out: &mut dyn Write) -> anyhow::Result<()> {
    let given = if args.nothing_given { Given::Nothing } else { Given::References };
    let judged = judge_folder(&args.folder, given, &mut |recording| {
        eprintln!("{}", recording.name);
    })?;
    for recording in &judged {
        write!(out, "{}", recording_lines(recording))?;
    }
    write!(out, "{}", sums(&judged))?;
    Ok(())
}

fn recording_lines(recording: &RecordingAccuracy) -> String {
    if let Some(reason) = &recording.failed {
        return format!("{}  NOT MEASURED: {reason}\n", recording.name);
    }
    let mut text = format!(
        "{}  found {} missed {} invented {}  time {:.2} of its length\n",
        recording.name,
        recording.swings.len(),
        recording.missed,
        recording.invented,
        recording.time_share,
    );
    for swing in &recording.swings {
        let _ = writeln!(text, "  {}", swing_line(swing));
    }
    text
}

fn swing_line(swing: &SwingAccuracy) -> String {
    let kind = match (swing.kind_right, swing.is_silently_wrong()) {
        (true, _) => "",
        (false, true) => " WRONG KIND!!",
        (false, false) => " WRONG KIND?",
    };
    let contact = match swing.contact_right {
        Some(true) => "right",
        Some(false) => "WRONG",
        None => "could not tell",
    };
    let exact = swing.divot_start_exact.map_or(String::new(), |e| format!(" (exact {e:+.1})"));
    format!(
        "frame {:+}{kind}  ball {}  start {}{exact}  end {}  low point {}  attack {}  contact {contact}",
        swing.frame_error,
        words(&swing.ball),
        words(&swing.divot_start),
        words(&swing.divot_end),
        words(&swing.low_point),
        words(&swing.attack_angle),
    )
}

/// "+3.1 ± 6.0", with a question mark where it was flagged and "!!" for a silent blunder.
fn words(outcome: &Outcome) -> String {
    let mark = |flagged: bool| if flagged { "?" } else { "" };
    match outcome {
        Outcome::Value(judged) => {
            let blunder = if judged.is_silent_blunder() { "!!" } else { "" };
            format!("{:+.1}±{:.1}{}{blunder}", judged.error, judged.stated, mark(judged.flagged))
        }
        Outcome::Missing { flagged } => format!("none{}", mark(*flagged)),
        Outcome::Invented { flagged } => format!("INVENTED{}", mark(*flagged)),
        Outcome::RightlyNone => "-".into(),
    }
}

fn sums(recordings: &[RecordingAccuracy]) -> String {
    let swings: Vec<&SwingAccuracy> = recordings.iter().flat_map(|r| &r.swings).collect();
    let missed: usize = recordings.iter().map(|r| r.missed).sum();
    let invented: usize = recordings.iter().map(|r| r.invented).sum();
    let exact = swings.iter().filter(|s| s.frame_error == 0).count();
    let kinds = swings.iter().filter(|s| s.kind_right).count();
    let silent = swings.iter().filter(|s| s.is_silently_wrong()).count();
    let slowest = recordings.iter().map(|r| r.time_share).fold(0.0, f64::max);
    let told = swings.iter().filter(|s| s.contact_right.is_some()).count();
    let right = swings.iter().filter(|s| s.contact_right == Some(true)).count();
    let mut text = format!(
        "\nswings found {} missed {missed} invented {invented}; kind right {kinds}, silently wrong {silent}; frame right {exact}; \
         contact told {told}, right {right}; slowest {slowest:.2} of its length\n",
        swings.len(),
    );
    let fast = |r: &&RecordingAccuracy| r.rate >= 110.0;
    let quick: Vec<&SwingAccuracy> =
        recordings.iter().filter(fast).flat_map(|r| &r.swings).collect();
    let rows: [(&str, Vec<Outcome>); 6] = [
        ("ball, px", swings.iter().map(|s| s.ball).collect()),
        ("divot start, mm", swings.iter().map(|s| s.divot_start).collect()),
        ("divot end, mm", swings.iter().map(|s| s.divot_end).collect()),
        ("low point, mm", swings.iter().map(|s| s.low_point).collect()),
        ("low point at 110/s and more", quick.iter().map(|s| s.low_point).collect()),
        ("attack angle, degrees", swings.iter().map(|s| s.attack_angle).collect()),
    ];
    for (name, outcomes) in &rows {
        let _ = writeln!(text, "{}", row(name, outcomes));
    }
    text + &calibration(swings.iter().flat_map(|s| &s.claims))
}

/// Of proposals called so sure, how many were right.
fn calibration<'a>(claims: impl Iterator<Item = &'a Claim>) -> String {
    const EDGES: [f64; 6] = [0.0, 0.5, 0.8, 0.9, 0.95, 1.01];
    let claims: Vec<&Claim> = claims.collect();
    let mut text = String::from("called sure:");
    for bounds in EDGES.windows(2) {
        let inside: Vec<&&Claim> =
            claims.iter().filter(|c| (bounds[0]..bounds[1]).contains(&c.sure)).collect();
        if !inside.is_empty() {
            let mean = inside.iter().map(|c| c.sure).sum::<f64>() / inside.len() as f64;
            let right = inside.iter().filter(|c| c.right).count();
            let _ = write!(text, " {:.0} % {right} of {} right;", 100.0 * mean, inside.len());
        }
    }
    text.trim_end_matches(';').to_owned() + "\n"
}

/// One quantity over all swings.
fn row(name: &str, outcomes: &[Outcome]) -> String {
    let values: Vec<Judged> = outcomes
        .iter()
        .filter_map(|o| if let Outcome::Value(j) = o { Some(*j) } else { None })
        .collect();
    let open: Vec<Judged> = values.iter().copied().filter(|j| !j.flagged).collect();
    let due = outcomes.iter().filter(|o| !matches!(o, Outcome::RightlyNone)).count();
    let invented = outcomes.iter().filter(|o| matches!(o, Outcome::Invented { .. })).count();
    let covered = open.iter().filter(|j| j.held).count();
    let blunders = open.iter().filter(|j| j.is_silent_blunder()).count();
    let errors: Vec<f64> = open.iter().map(|j| j.error.abs()).collect();
    let stated: Vec<f64> = open.iter().map(|j| j.stated).collect();
    format!(
        "{name}: {} of {due} unflagged ({invented} invented); error median {} nine in ten {}; stated ± median {}; \
         covered {covered} of {}; silent blunders {blunders}",
        open.len(),
        quantile(errors.clone(), 0.5),
        quantile(errors, 0.9),
        quantile(stated, 0.5),
        open.len(),
    )
}

fn quantile(mut values: Vec<f64>, share: f64) -> String {
    values.sort_by(f64::total_cmp);
    let at = (values.len() as f64 * share).ceil() as usize;
    values.get(at.saturating_sub(1)).map_or("-".into(), |v| format!("{v:.1}"))
}
