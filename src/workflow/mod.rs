//! Puts the rooms together; jobs with progress and cancel. `app` and `cli` call the same
//! functions, so a number seen in both is computed once.
//!
//! | for | files |
//! |---|---|
//! | measuring a recording | [`measure()`], [`evaluate()`], `propose`, `check_setup`, [`accuracy`] |
//! | recordings in the library | `kept`, `reopen`, [`FolderWatch`] in `watch`, `sample` |
//! | people, plans, many swings | `plan`, `outline`, `consistency`, `study` |
//! | saying it in words | `state` (one number), `tell` (a block), `tell_comparison` |
//! | passing on | `content`, [`send`], `export`, [`bundle`], `consent` |
//! | trust | `lens`, `tape`, `erase`, `log` |

pub mod accuracy;
pub mod bundle;
mod carried;
mod check_setup;
mod consent;
mod consistency;
mod content;
mod doubt;
mod erase;
mod evaluate;
mod export;
mod kept;
mod kept_error;
mod lens;
mod log;
mod measure;
mod outline;
mod plan;
mod progress;
mod propose;
mod reopen;
mod sample;
pub mod send;
mod slowed;
mod state;
mod study;
mod tape;
mod tell;
mod tell_comparison;
mod torn;
mod watch;

pub use carried::{ViewDoubt, carried_from, set_up_anew, view_differs};
pub use check_setup::{SetupFault, check_mark, check_setup, is_height};
pub use consent::{ConsentError, may_pass_on, note_consent};
pub use consistency::{
    ClubRow, SeasonPoint, aim_table, club_words, compare, offsets_of, season, start_windows,
    summarise,
};
pub use content::{CoachSays, session_content};
pub use doubt::{
    BlockNumber, ComparedNumber, Doubt, DoubtPart, PartUnit, doubt_of_bias, doubt_of_block,
    doubt_of_camera, doubt_of_comparison, doubt_of_difference, doubt_of_number, doubt_of_session,
    doubt_of_stance,
};
pub use erase::{Erasure, backup_folder, erase, plan_erasure};
pub use evaluate::{Evaluation, SURE_ENOUGH, SwingGround, SwingInput, evaluate, lens_of_edges};
pub use export::{ExportError, beside, swing_picture, write_clip};
pub use kept::{
    RUNNING_BLOCK, evaluate_kept, file_name, golfer_named, inputs_of, kept_recording, read_in,
    remeasure, running_block, session_on,
};
pub use kept_error::KeptError;
pub use lens::{
    KeptLens, LensChoice, keep_lens, keep_lens_of_edges, kept_lenses, lens_choice, lens_of_board,
    lens_words, offered_lenses, use_lens,
};
pub use log::{BrokeDown, Running, keep_log, keep_log_of_faults, log_folder, log_place};
pub use measure::{
    MeasureError, Measurement, RecordingFacts, clicks_of, measure, measure_file, steadied_setup,
};
pub use outline::{Outline, OutlinedSession, day_words, outline};
pub use plan::{PlanEdit, begin_block, change_plan};
pub use progress::{FindsListener, Listener, Progress};
pub use propose::{KnownBefore, lying_height, propose_line, propose_references};
pub use reopen::{check_kept_index, open_kept, reopen, reopen_known};
pub use sample::{Sample, build_sample, read_sample_recordings};
pub use state::{
    Expansion, Stated, WINDOW_SETTINGS, attack_words, choose_unit, chosen_threshold, chosen_unit,
    clearance_of, clearance_words, expansion, length_words, number_words, on_ground, on_ruler,
    place_words, reference_title, reference_words, state, unit_at, view_words, warning_words,
    words_for_attack, words_for_offset,
};
pub use study::{
    Against, BlockStudy, ClubAim, ClubsStudy, ComparisonStudy, DrillRun, DrillStudy, Listed,
    Repeatability, SeasonStudy, Span, StancePoint, list_swings, study_block, study_clubs,
    study_comparison, study_drills, study_season,
};
pub use tape::{
    PAIRS_TO_JUDGE, TAPE_REACH, TapePair, TapeStudy, TapeVerdict, add_tape_value, tape_study,
};
pub use tell::{
    BlockFact, block_facts, chance_words, further_facts, laying_words, mean_words,
    own_spread_words, plain_facts, reach_words, repeatability_words, score_words, scoring_words,
    sd_words, share_facts, share_words, size_words, stance_words, swings_words, value_words,
};
pub use tell_comparison::{ComparedFact, comparison_facts};
pub use watch::{ENDINGS, FolderWatch, folder_words};
