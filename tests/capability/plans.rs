//! People, plans and their numbers from the command line, beside the functions they come from.

use std::path::Path;

use clap::Parser;
use scuffline::cli::{Cli, run};
use scuffline::domain::{Handed, LengthUnit, Lie, Quantity, Surface};
use scuffline::store::{GolferId, Library, Of};
use scuffline::workflow::{
    BlockFact, ComparedNumber, Doubt, Span, block_facts, build_sample, chosen_unit,
    comparison_facts, doubt_of_block, doubt_of_comparison, doubt_of_session, doubt_of_stance,
    outline, stance_words, study_block, study_clubs, study_comparison, study_season,
};

/// What a command prints on this library.
fn told(library: &Path, words: &[&str]) -> anyhow::Result<String> {
    let place = library.to_str().expect("a plain path");
    let start = ["scuffline", "--library", place];
    let cli = Cli::try_parse_from(start.iter().chain(words))?;
    let mut out = Vec::new();
    run(cli.verb.as_ref().expect("a verb"), cli.library.as_deref(), &mut out)?;
    Ok(String::from_utf8(out)?)
}

fn sample(folder: &Path) -> (std::path::PathBuf, GolferId) {
    let path = folder.join("library");
    let mut library = Library::open(&path).unwrap();
    let golfer = build_sample(&mut library, Path::new("no footage")).unwrap().unwrap().golfer;
    (path, golfer)
}

#[test]
fn golfers_sessions_blocks_and_swings_are_described_and_undone() {
    let folder = tempfile::tempdir().unwrap();
    let (path, golfer) = sample(folder.path());
    let say = |words: &[&str]| told(&path, words).unwrap();
    let name = Library::open(&path).unwrap().golfer(golfer).unwrap().name;

    let printed = say(&["describe", "golfer", &name, "--handed", "left"]);
    assert!(printed.contains("handed    left"), "{printed}");
    let kept = Library::open(&path).unwrap().golfer(golfer).unwrap();
    assert_eq!(kept.handed, Handed::Left);
    assert!(told(&path, &["describe", "golfer", "Nobody"]).is_err());
    assert_eq!(say(&["units"]), "mm\n");
    assert_eq!(say(&["units", "inch"]), "inch\n");
    assert_eq!(chosen_unit(&Library::open(&path).unwrap()).unwrap(), LengthUnit::Inch);
    say(&["units", "mm"]);
    say(&["describe", "golfer", "Pat Invented", "--new", "--child", "yes"]);
    let library = Library::open(&path).unwrap();
    assert!(library.golfers().unwrap().iter().any(|(_, g)| g.name == "Pat Invented" && g.child));

    let session = outline(&library, golfer).unwrap().sessions[0].clone();
    let number = session.id.to_string();
    let before = library.session(session.id).unwrap().session;
    say(&["describe", "session", &number, "--place", "Bay 9", "--surface", "mat", "--lie", "up"]);
    let after = library.session(session.id).unwrap().session;
    assert_eq!((after.place.as_str(), after.surface, after.lie), ("Bay 9", Surface::Mat, Lie::Up));
    assert_eq!(say(&["undo", &number]), "Undone: the session's description\n");
    assert_eq!(library.session(session.id).unwrap().session, before);
    say(&["redo", &number]);
    assert_eq!(library.session(session.id).unwrap().session, after);

    let block = session.blocks[0].0.id.to_string();
    let printed = say(&["describe", "block", &block, "--cue", "Brush ahead", "--club", ""]);
    assert!(printed.contains("Brush ahead") && !printed.contains("club "), "{printed}");
    let printed =
        say(&["describe", "swing", &number, "1", "2", "--tag", "Fat", "--leave-out", "slipped"]);
    assert!(
        printed.contains("swing 1 ") && printed.contains("left out: slipped; fat"),
        "{printed}"
    );
    let swings = library.swings(Of::Session(session.id)).unwrap();
    assert_eq!(swings[1].left_out.as_deref(), Some("slipped"));
    assert_eq!(swings.len(), session.swings, "left out is not deleted");
    say(&["describe", "swing", &number, "2", "--count", "--untag", "fat"]);
    let swings = library.swings(Of::Session(session.id)).unwrap();
    assert!(swings[1].left_out.is_none() && !swings[1].tags.contains(&"fat".into()));
    say(&["undo"]);
    let names: Vec<_> = library.golfers().unwrap().into_iter().map(|(_, g)| g.name).collect();
    assert!(!names.contains(&"Pat Invented".to_owned()), "{names:?}");
    // Nothing is changed by what cannot be done.
    let foreign = outline(&library, golfer).unwrap().sessions[1].blocks[0].0.id.to_string();
    for wrong in [
        vec!["describe", "swing", &number, "1", "--block", &foreign],
        vec!["describe", "swing", &number, "0"],
        vec!["describe", "swing", &number, "1", "--leave-out", " "],
        vec!["describe", "session", "99999"],
    ] {
        assert!(told(&path, &wrong).is_err(), "{wrong:?}");
    }
    assert_eq!(library.swings(Of::Session(session.id)).unwrap(), swings);
}

#[test]
fn aim_windows_are_told_changed_and_brought_back() {
    let folder = tempfile::tempdir().unwrap();
    let (path, golfer) = sample(folder.path());
    let aim = |more: &[&str]| told(&path, &[&["aim", "--club", "7-iron"], more].concat());
    assert!(aim(&[]).unwrap().contains("low point    50 mm ahead to 125 mm ahead (usual)"));
    let own = aim(&["--of", "low-point", "--from", "110", "--to", "-20"]).unwrap();
    assert!(own.contains("low point    20 mm behind to 110 mm ahead (the golfer's own)"), "{own}");
    assert_eq!(Library::open(&path).unwrap().aim_windows(golfer).unwrap().len(), 1);
    let own = aim(&["--of", "low-point", "--from", "-2,2cm", "--to", "4 in"]).unwrap();
    assert!(own.contains("low point    22 mm behind to 102 mm ahead (the golfer's own)"), "{own}");
    for ends in [["5", "5"], ["5", "2m"], ["nan", "5"], ["--to", "5"]] {
        let words = ["--of", "low-point", "--from", ends[0], "--to", ends[1]];
        assert!(aim(&words).is_err(), "{ends:?}");
    }
    assert!(aim(&["--of", "low-point", "--usual"]).unwrap().contains("125 mm ahead (usual)"));
    let driver = told(&path, &["aim", "--club", "driver"]).unwrap();
    assert!(driver.contains("divot start  nothing to aim for"), "{driver}");
    assert!(driver.contains("150 mm behind to 25 mm behind (usual)"), "{driver}");
}

#[test]
fn a_tapes_length_has_a_sign_and_a_unit() {
    let folder = tempfile::tempdir().unwrap();
    let (path, _) = sample(folder.path());
    let why = |length: &str| {
        let words = ["tape", "none.mp4", "divot-start", length, "--swing", "1"];
        told(&path, &words).unwrap_err().to_string()
    };
    // Read and then looked for: what was typed is no fault.
    for length in ["-22mm", "-2,2 cm", "0.9in", "-22", "0"] {
        let why = why(length);
        assert!(!why.contains("length") && !why.contains("unexpected"), "{length}: {why}");
    }
    assert!(why("-3m").contains("within 2 m (78 in)"), "{}", why("-3m"));
    assert!(why("a hand").contains("a length, as in 22"), "{}", why("a hand"));
}

#[test]
fn summary_and_comparison_print_what_the_window_shows() {
    let folder = tempfile::tempdir().unwrap();
    let (path, golfer) = sample(folder.path());
    let library = Library::open(&path).unwrap();
    let outline = outline(&library, golfer).unwrap();
    let lesson = &outline.sessions[1];
    let [before, after] = [0, 1].map(|i| lesson.blocks[i].0.id);
    let later = outline.sessions[0].blocks[0].0.id;

    let printed = told(&path, &["summary", "--block", &before.to_string()]).unwrap();
    let study = study_block(&library, golfer, Of::Block(before)).unwrap();
    let start = study.summary.offset(Quantity::DivotStart).unwrap();
    for BlockFact { name, text: fact, .. } in block_facts(&study, start, LengthUnit::Mm) {
        assert!(printed.contains(&format!("  {name:<22} {fact}\n")), "{name}: {printed}");
    }
    for name in ["Median", "Range", "Ball first", "Drift", "Neighbours alike", "Weighted average"] {
        assert!(printed.contains(name), "{name}: {printed}");
    }
    assert!(printed.contains("of which measuring"), "{printed}");

    let blocks = [before, after, later].map(|id| id.to_string());
    let words: Vec<&str> = blocks.iter().flat_map(|id| ["--block", id.as_str()]).collect();
    let printed = told(&path, &[&["compare"], &words[..]].concat()).unwrap();
    let others = [after, later].map(Of::Block);
    let study = study_comparison(&library, golfer, Of::Block(before), &others).unwrap();
    for other in &study.others {
        assert!(printed.contains(&other.sentence(LengthUnit::Mm)), "{printed}");
    }
    let kept = study.retention.as_ref().unwrap().sentence(LengthUnit::Mm);
    for part in [kept.as_str(), "Medians (95 %)", "Swings needed", "Weir 2005", "Holm 1979"] {
        assert!(printed.contains(part), "{part}: {printed}");
    }

    let clubs = study_clubs(&library, golfer, Span::All).unwrap();
    let stance = stance_words(&clubs, LengthUnit::Mm).unwrap();
    assert!(told(&path, &["clubs"]).unwrap().contains(&stance));
    let season = told(&path, &["season", "--of", "low-point"]).unwrap();
    assert_eq!(season.lines().count(), 3, "{season}");
    let drills = told(&path, &["drills"]).unwrap();
    assert!(drills.contains("two-lines-bare") && drills.contains("Personal best"), "{drills}");
    let begun = told(&path, &["begin", &lesson.id.to_string(), "--drill", "stairs-ahead"]).unwrap();
    let block = library.blocks(lesson.id).unwrap().pop().unwrap();
    assert_eq!(begun.trim(), format!("Block {}: Stairs ahead", block.0));
    assert!(told(&path, &["begin", "1", "--drill", "unheard-of"]).is_err());
}

#[test]
fn what_does_not_stand_up_to_many_looks_is_taken_back() {
    let folder = tempfile::tempdir().unwrap();
    let (path, golfer) = sample(folder.path());
    let library = Library::open(&path).unwrap();
    let outline = outline(&library, golfer).unwrap();
    let [before, after] = [0, 1].map(|i| Of::Block(outline.sessions[1].blocks[i].0.id));
    let mut study = study_comparison(&library, golfer, before, &[after]).unwrap();
    let other = &mut study.others[0];
    let plain = other.comparison.sentence(LengthUnit::Mm);
    assert!(other.comparison.told().unwrap().is_shown(), "{plain}");
    assert_eq!(other.sentence(LengthUnit::Mm), plain);
    assert_eq!(other.told_corrected, other.comparison.told().unwrap().means.test.p);
    other.told_corrected = 0.2;
    assert!(other.sentence(LengthUnit::Mm).contains("looked at together this may be chance"));
}

/// A doubt is laid out in parts that add up.
fn adds_up(doubt: &Doubt) {
    let sum: f64 = doubt.parts.iter().map(|part| part.standard.powi(2)).sum();
    assert!(doubt.standard > 0.0 && (sum.sqrt() - doubt.standard).abs() < 1e-9, "{doubt:?}");
    let shares: f64 = doubt.parts.iter().map(|part| part.share).sum();
    assert!((shares - 1.0).abs() < 1e-9 && !doubt.how.is_empty(), "{doubt:?}");
}

#[test]
fn every_number_with_an_interval_tells_where_its_doubt_comes_from() {
    let folder = tempfile::tempdir().unwrap();
    let (path, golfer) = sample(folder.path());
    let library = Library::open(&path).unwrap();
    let outline = outline(&library, golfer).unwrap();
    let [before, after] = [0, 1].map(|i| Of::Block(outline.sessions[1].blocks[i].0.id));
    let unit = LengthUnit::Mm;
    // What stands with an interval ("a to b", "±") among a block's facts has a doubt; the range,
    // which is of the swings themselves, and the chart's limits have none.
    let study = study_block(&library, golfer, before).unwrap();
    let mut told = 0;
    for offset in &study.summary.offsets {
        for fact in block_facts(&study, offset, unit) {
            let has_interval = fact.text.contains(" to ") || fact.text.contains('±');
            let observed = ["Range", "Chart", "Fit of the window"].contains(&fact.name);
            assert_eq!(fact.number.is_some(), has_interval && !observed, "{fact:?}");
            let Some(number) = fact.number else { continue };
            let doubt = doubt_of_block(&study.summary, offset.quantity, number, unit);
            adds_up(&doubt.unwrap_or_else(|| panic!("{fact:?}")));
            told += 1;
        }
    }
    assert!(told > 15, "{told}");
    let compared = study_comparison(&library, golfer, before, &[after]).unwrap();
    let other = &compared.others[0];
    for (place, offset) in other.comparison.offsets.iter().enumerate() {
        let doubt = |n| doubt_of_comparison(&other.comparison, offset.quantity, n, unit).unwrap();
        let numbers: Vec<_> = comparison_facts(other, place, unit)
            .into_iter()
            .filter_map(|fact| fact.number)
            .collect();
        assert_eq!(numbers.len(), 8, "{numbers:?}");
        numbers.iter().for_each(|number| adds_up(&doubt(*number)));
        // Welch: the squares of the two standard errors add up to that of the difference.
        let alone = doubt(ComparedNumber::ScatterAlone).standard;
        assert!((alone - offset.scatter_only.u).abs() < 1e-9);
        // Of the logarithm of a ratio the 95 % interval reaches 1.96 standard uncertainties.
        let spreads = offset.spreads.unwrap();
        let of_log = (spreads.robust_interval.high / spreads.robust_ratio).ln() / 1.959_964;
        let ratio = doubt(ComparedNumber::Spreads).standard;
        assert!((ratio - spreads.robust_ratio * of_log).abs() < 1e-6, "{ratio} {of_log}");
    }
    let clubs = study_clubs(&library, golfer, Span::All).unwrap();
    adds_up(&doubt_of_stance(&clubs, unit).unwrap());
    let season = study_season(&library, golfer, Quantity::LowPoint, None).unwrap();
    for (_, point) in &season.points {
        let named = (Quantity::LowPoint, point.mark);
        adds_up(&doubt_of_session(&point.mean, named, ("that day", point.n), unit));
    }
}
