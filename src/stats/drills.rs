//! Drills: how they are set up, what to attend to, and how the marks score them.
//!
//! Common practice, no published source; the names are this project's own.

use super::aim::AimTable;
use super::block::SwingOffsets;
use crate::domain::{BallUse, ContactOrder, Quantity, Surface};

/// A drill.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Drill {
    /// What a block carries to say it was this one.
    pub key: &'static str,
    /// Its name.
    pub title: &'static str,
    /// With or without a ball.
    pub ball: BallUse,
    /// How to lay it out, in a minute; `{reach}` stands for the reach line's distance.
    pub setup: &'static str,
    /// What to attend to: on the ground, not in the body.
    pub cue: &'static str,
    /// How the marks score it.
    pub scoring: Scoring,
}

/// How marks become a score.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Scoring {
    /// How many swings mark the ground at the reach line or beyond.
    Reach {
        /// The reach line's distance ahead of the ball line, mm, where it is not marked in the
        /// picture.
        line_mm: f64,
    },
    /// The longest run in which each mark begins farther ahead than the one before.
    Climb,
    /// The longest run of divot starts inside the aim window.
    Gate {
        /// The run that completes the drill.
        goal: usize,
    },
    /// How many swings touch nothing, with the low point behind the ball.
    NothingTouched,
    /// How many low points lie in their own club's aim window.
    OwnWindow,
}

/// How a run went.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct DrillScore {
    /// Swings that could be scored.
    pub swings: usize,
    /// How many did what was asked.
    pub hits: usize,
    /// The most in a row.
    pub best_run: usize,
}

impl DrillScore {
    /// What counts for a personal best: the run where a run is asked for, else the hits.
    pub fn points(&self, scoring: Scoring) -> usize {
        match scoring {
            Scoring::Climb | Scoring::Gate { .. } => self.best_run,
            Scoring::Reach { .. } | Scoring::NothingTouched | Scoring::OwnWindow => self.hits,
        }
    }
}

/// How far ahead of the ball line a reach line is drawn, mm: three inches, the near end of the
/// usual 75 to 100 mm.
pub const REACH_MM: f64 = 75.0;

/// All drills.
pub const DRILLS: [Drill; 6] = [
    Drill {
        key: "two-lines-bare",
        title: "Two lines, no ball",
        ball: BallUse::WithoutBall,
        setup: "Draw a ball line square to the target and a reach line {reach} ahead of it. Stand as if a ball lay on the ball line. Ten swings.",
        cue: "Brush the ground at the reach line or beyond.",
        scoring: Scoring::Reach { line_mm: REACH_MM },
    },
    Drill {
        key: "two-lines-ball",
        title: "Two lines with a ball",
        ball: BallUse::WithBall,
        setup: "The same two lines, and a ball on the ball line for every swing. Ten swings.",
        cue: "Forget the ball; brush the ground at the reach line or beyond.",
        scoring: Scoring::Reach { line_mm: REACH_MM },
    },
    Drill {
        key: "stairs-ahead",
        title: "Stairs ahead",
        ball: BallUse::WithoutBall,
        setup: "One ball line. Each swing leaves its mark; the next one begins farther ahead. Start over when it does not.",
        cue: "Begin this mark ahead of the last one.",
        scoring: Scoring::Climb,
    },
    Drill {
        key: "ten-through",
        title: "Ten through the gate",
        ball: BallUse::WithBall,
        setup: "Lay two tees beside the aim window as a gate, well outside the club's path. Ten in a row begin inside it.",
        cue: "Start the divot between the tees.",
        scoring: Scoring::Gate { goal: 10 },
    },
    Drill {
        key: "sweep-the-tee",
        title: "Sweep the tee",
        ball: BallUse::WithBall,
        setup: "Driver, ball on a tee forward in the stance. Ten swings that leave the ground as it was.",
        cue: "Leave every blade of grass standing.",
        scoring: Scoring::NothingTouched,
    },
    Drill {
        key: "drawn-clubs",
        title: "Drawn clubs",
        ball: BallUse::WithBall,
        setup: "Write five clubs on slips and draw one before every swing. Twelve swings.",
        cue: "Find this club's place on the ground.",
        scoring: Scoring::OwnWindow,
    },
];

/// Scores a run of a drill; swings left out or without the number that counts are passed over.
pub fn score_drill(scoring: Scoring, swings: &[SwingOffsets], aim: &AimTable) -> DrillScore {
    let mut last = None;
    let verdicts: Vec<bool> = swings
        .iter()
        .filter(|s| !s.left_out)
        .filter_map(|s| verdict(scoring, s, aim, &mut last))
        .collect();
    let (mut run, mut best_run) = (0, 0);
    for &hit in &verdicts {
        // In a climb a miss is the new first step; elsewhere it ends the run.
        run = match (hit, scoring) {
            (true, _) => run + 1,
            (false, Scoring::Climb) => 1,
            (false, _) => 0,
        };
        best_run = best_run.max(run);
    }
    let hits = verdicts.iter().filter(|hit| **hit).count();
    DrillScore { swings: verdicts.len(), hits, best_run }
}

/// Whether a swing did what was asked; `None`: it cannot be told. `last`: the start before.
fn verdict(
    scoring: Scoring,
    swing: &SwingOffsets,
    aim: &AimTable,
    last: &mut Option<f64>,
) -> Option<bool> {
    let start = swing.value(Quantity::DivotStart);
    // A mat may hide what was there; on turf no mark is a miss.
    let missed = start.is_none() && swing.unmarked && swing.surface == Surface::Turf;
    let low = swing.value(Quantity::LowPoint);
    let window = |quantity| aim.window(swing.club.as_ref(), swing.on_tee, quantity);
    match scoring {
        Scoring::Reach { .. } | Scoring::Gate { .. } if missed => Some(false),
        Scoring::Reach { line_mm } => Some(start? >= swing.reach_line.unwrap_or(line_mm)),
        Scoring::Climb => {
            let start = start?;
            let before = last.replace(start);
            Some(before.is_none_or(|b| start > b))
        }
        Scoring::Gate { .. } => Some(window(Quantity::DivotStart)?.contains(start?)),
        Scoring::NothingTouched => {
            let untouched = swing.contact_order? == ContactOrder::NoGroundContact;
            Some(untouched && low.is_none_or(|mm| mm < 0.0))
        }
        Scoring::OwnWindow => Some(window(Quantity::LowPoint)?.contains(low?)),
    }
}
