//! The sentences of absence in DEVELOPERS.md, and what the program is built from.

use std::path::{Path, PathBuf};
use std::process::Command;

/// The rooms in the order in which arrows may point, each with those it may use.
const ROOMS: [(&str, &[&str]); 11] = [
    ("domain", &[]),
    ("geometry", &["domain"]),
    ("stats", &["domain"]),
    ("demo", &["domain"]),
    ("report", &["domain"]),
    ("vision", &["domain"]),
    ("video", &["domain"]),
    ("store", &["domain"]),
    ("workflow", &["domain", "geometry", "stats", "report", "vision", "video", "store"]),
    ("app", &["domain", "geometry", "stats", "report", "vision", "video", "store", "workflow"]),
    ("cli", &["domain", "geometry", "stats", "report", "vision", "video", "store", "workflow"]),
];

/// The window's layers from the ground up, each with those it may use.
const LAYERS: [(&str, &[&str]); 14] = [
    ("icon", &[]),
    ("options", &[]),
    ("strip", &[]),
    ("theme", &[]),
    ("notebook", &[]),
    ("model", &["notebook", "strip", "theme"]),
    ("focus", &["model"]),
    ("words", &["model"]),
    ("message", &["notebook", "theme", "model"]),
    ("keys", &["notebook", "model", "focus", "message"]),
    ("update", &["notebook", "strip", "model", "message", "words"]),
    ("worker", &["notebook", "options", "model", "message"]),
    ("view", &["notebook", "strip", "theme", "model", "focus", "words", "message", "keys"]),
    (
        "window",
        &["icon", "options", "theme", "model", "message", "keys", "update", "worker", "view"],
    ),
];

fn house() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

/// The Rust files below `folder` with their text up to the unit tests, comments taken out.
fn sources(folder: &Path) -> Vec<(PathBuf, String)> {
    let mut found = Vec::new();
    let mut folders = vec![folder.to_path_buf()];
    while let Some(folder) = folders.pop() {
        for entry in std::fs::read_dir(folder).unwrap().flatten() {
            let path = entry.path();
            if path.is_dir() {
                folders.extend((!path.ends_with("tests")).then_some(path));
            } else if path.extension().is_some_and(|e| e == "rs") && !path.ends_with("tests.rs") {
                let text = std::fs::read_to_string(&path).unwrap();
                let code = text.split("#[cfg(test)]\nmod tests {").next().unwrap();
                let lines = code.lines().filter(|line| !line.trim_start().starts_with("//"));
                found.push((path, lines.collect::<Vec<_>>().join("\n")));
            }
        }
    }
    assert!(!found.is_empty());
    found
}

fn room_of(path: &Path) -> String {
    let inside = path.strip_prefix(house().join("src")).unwrap();
    inside.iter().next().unwrap().to_string_lossy().into_owned()
}

/// Words that stand in a text as words of their own.
fn has_word(text: &str, word: &str) -> bool {
    let is_part = |c: Option<char>| c.is_some_and(|c| c.is_alphanumeric() || c == '_');
    text.match_indices(word).any(|(at, _)| {
        let before = text[..at].chars().next_back();
        !is_part(before) && !is_part(text[at + word.len()..].chars().next())
    })
}

/// The paths of a text that begin with `root`, those within braces written out:
/// `crate::{stats, store::Of}` as `crate::stats` and `crate::store::Of`.
fn paths(text: &str, root: &str) -> Vec<String> {
    let mut found = Vec::new();
    for (at, _) in text.match_indices(&format!("{root}::")) {
        let rest = &text[at + root.len() + 2..];
        match rest.strip_prefix('{') {
            Some(inner) => {
                let mut depth = 1;
                let end = inner.find(|c| {
                    depth += i32::from(c == '{') - i32::from(c == '}');
                    depth == 0
                });
                let inner = &inner[..end.unwrap_or(inner.len())];
                found.extend(inner.split(',').map(|part| format!("{root}::{}", part.trim())));
            }
            None => {
                let is_part = |c: char| c.is_alphanumeric() || c == '_' || c == ':';
                let end = rest.find(|c| !is_part(c)).unwrap_or(rest.len());
                found.push(format!("{root}::{}", &rest[..end]));
            }
        }
    }
    found
}

/// Rooms named in a text that its own room may not use.
fn rooms_overstepped(room: &str, text: &str) -> Vec<&'static str> {
    overstepped(&ROOMS, room, &["crate", "super::super", "super::super::super"], text)
}

/// Layers of the window named in a text that its own layer may not use; `depth`: how far below
/// the window's module the text's own lies.
fn layers_overstepped(layer: &str, depth: usize, text: &str) -> Vec<&'static str> {
    overstepped(&LAYERS, layer, &["crate::app", &vec!["super"; depth].join("::")], text)
}

/// Of `places`, those that a text names below one of `roots` though its own place may not use them.
fn overstepped(
    places: &[(&'static str, &[&str])],
    place: &str,
    roots: &[&str],
    text: &str,
) -> Vec<&'static str> {
    let allowed = places.iter().find(|(name, _)| *name == place).map_or(&[][..], |(_, may)| may);
    let used: Vec<String> = roots
        .iter()
        .flat_map(|root| paths(text, root).into_iter().map(|p| p[root.len() + 2..].to_owned()))
        .collect();
    let others = places.iter().map(|(other, _)| *other).filter(|other| *other != place);
    others
        .filter(|other| used.iter().any(|path| path.split("::").next() == Some(other)))
        .filter(|other| !allowed.contains(other))
        .collect()
}

#[test]
fn rooms_use_only_those_below_them() {
    for (path, text) in sources(&house().join("src")) {
        let room = room_of(&path);
        if ROOMS.iter().all(|(known, _)| *known != room) {
            assert!(["lib.rs", "main.rs"].contains(&room.as_str()), "a new room: {room}");
            continue;
        }
        let overstepped = rooms_overstepped(&room, &text);
        assert!(overstepped.is_empty(), "{room} uses {overstepped:?}: {}", path.display());
    }
}

#[test]
fn the_windows_layers_use_only_those_below_them() {
    for (path, text) in sources(&house().join("src/app")) {
        let module = path.strip_prefix(house().join("src/app")).unwrap().with_extension("");
        let parts = module.iter().filter(|part| *part != "mod").count();
        let Some(layer) = module.iter().next().and_then(|l| l.to_str()).filter(|_| parts > 0)
        else {
            continue;
        };
        assert!(LAYERS.iter().any(|(known, _)| *known == layer), "a new layer: {layer}");
        let overstepped = layers_overstepped(layer, parts, &text);
        assert!(overstepped.is_empty(), "{layer} uses {overstepped:?}: {}", path.display());
    }
}

/// Crates with the rooms that may see them.
const KEPT: [(&str, &[&str]); 8] = [
    ("egui", &["app"]),
    ("eframe", &["app"]),
    ("rfd", &["app"]),
    ("ffmpeg_next", &["video"]),
    ("ffmpeg_sys_next", &["video"]),
    ("rusqlite", &["store"]),
    ("clap", &["cli", "main.rs"]),
    ("tracing_subscriber", &["workflow"]),
];

/// What in a text belongs to another room: crates, and SQL.
fn out_of_place(room: &str, text: &str) -> Vec<&'static str> {
    let crates = KEPT.iter().filter(|(_, rooms)| !rooms.contains(&room));
    let crates = crates.map(|(name, _)| *name).filter(|name| has_word(text, name));
    let sql = ["SELECT ", "INSERT INTO", "\"UPDATE ", "DELETE FROM", "CREATE TABLE", "PRAGMA "];
    let sql = sql.into_iter().filter(|words| room != "store" && text.contains(words));
    crates.chain(sql).collect()
}

#[test]
fn what_each_crate_is_kept_to() {
    for (path, text) in sources(&house().join("src")) {
        let strays = out_of_place(&room_of(&path), &text);
        assert!(strays.is_empty(), "{strays:?} in {}", path.display());
    }
}

/// What makes a function's answer depend on more than what it was given, or leaves traces.
fn worldly(text: &str) -> Vec<String> {
    let world = ["fs", "io", "net", "thread", "time", "env", "process"];
    let from_std = paths(text, "std")
        .into_iter()
        .filter(|path| path.split("::").nth(1).is_some_and(|module| world.contains(&module)));
    let words = [
        "Instant",
        "SystemTime",
        "println",
        "eprintln",
        "dbg",
        "tracing",
        "include_str",
        "thread_rng",
        "from_os_rng",
        "RandomState",
        "HashMap",
        "HashSet",
    ];
    let words = words.into_iter().filter(|word| has_word(text, word)).map(str::to_owned);
    let calls = ["now()", "rand::rng()"].into_iter().filter(|call| text.contains(call));
    from_std.chain(words).chain(calls.map(str::to_owned)).collect()
}

#[test]
fn the_core_does_no_input_or_output_reads_no_clock_starts_no_thread() {
    for room in ["domain", "geometry", "stats", "vision", "demo"] {
        for (path, text) in sources(&house().join("src").join(room)) {
            let found = worldly(&text);
            assert!(found.is_empty(), "{found:?} in {}", path.display());
        }
    }
}

#[test]
fn the_sentences_of_absence_would_notice() {
    for text in
        ["use crate::store::Library;", "use crate::{domain::Club, store};", "crate::cli::run"]
    {
        assert!(!rooms_overstepped("stats", text).is_empty(), "{text}");
    }
    assert!(!rooms_overstepped("workflow", "use super::super::app;").is_empty());
    for (depth, text) in [
        (1, "use super::update::update;"),
        (2, "use super::super::view::View;"),
        (3, "crate::app::window::run(options)"),
    ] {
        assert!(!layers_overstepped("model", depth, text).is_empty(), "{text}");
    }
    assert!(layers_overstepped("model", 2, "use super::view::Place;").is_empty());
    assert!(layers_overstepped("update", 2, "use super::super::model::Model;").is_empty());
    assert!(rooms_overstepped("workflow", "use crate::store::{Library, Of};").is_empty());
    assert!(rooms_overstepped("stats", "let restore = crate::domain::Club::default();").is_empty());
    for (room, text) in [
        ("workflow", "use eframe::egui;"),
        ("report", "egui::Color32"),
        ("vision", "ffmpeg_next::frame"),
        ("cli", "let sql = \"SELECT * FROM swing\";"),
        ("app", "r#\"\n  DELETE FROM swing\"#"),
    ] {
        assert!(!out_of_place(room, text).is_empty(), "{text}");
    }
    assert!(out_of_place("store", "\"SELECT 1\"").is_empty());
    for text in [
        "std::fs::read(path)",
        "use std::{collections::BTreeMap, io};",
        "jiff::ZonedDateTime::now()",
        "println!(\"{x}\")",
        "use std::collections::HashMap;",
    ] {
        assert!(!worldly(text).is_empty(), "{text}");
    }
    assert!(worldly("use std::collections::BTreeMap; let renown = 1;").is_empty());
}

#[test]
fn nothing_opens_a_connection_and_only_speech_starts_a_program() {
    for (path, text) in sources(&house().join("src")) {
        for word in ["std::net", "TcpStream", "UdpSocket", "ToSocketAddrs", "UnixStream"] {
            assert!(!has_word(&text, word), "{word} in {}", path.display());
        }
        let starts = text.contains("process::Command") || text.contains("Command::new");
        assert!(!starts || path.ends_with("app/worker/mod.rs"), "{}", path.display());
    }
}

/// The words of most errors name a file, and a file may be named after a golfer. Those of the
/// system's calls in the places below name none.
#[test]
fn the_log_gets_no_words_of_errors_that_name_files() {
    let nameless = ["app/worker/mod.rs", "store/journal.rs", "store/care.rs", "workflow/log.rs"];
    let mut notes = 0;
    for (path, text) in sources(&house().join("src")) {
        for note in text.split("tracing::").skip(1).filter(|rest| {
            ["error!(", "warn!(", "info!(", "debug!("].iter().any(|level| rest.starts_with(level))
        }) {
            notes += 1;
            let words = note.split(')').next().unwrap();
            let holds_values = words.contains('{') || words.contains('%') || words.contains('?');
            let allowed = nameless.iter().any(|file| path.ends_with(file));
            assert!(allowed || !holds_values, "{} notes {words}", path.display());
        }
    }
    assert!(notes >= 8, "{notes} notes found");
}

/// The dependencies that the manifest names.
fn dependencies() -> Vec<String> {
    let manifest = std::fs::read_to_string(house().join("Cargo.toml")).unwrap();
    let mut within = false;
    let mut names = Vec::new();
    for line in manifest.lines() {
        if line.starts_with('[') {
            within = line.contains("dependencies");
        } else if let Some((name, _)) = line.split_once('=').filter(|_| within) {
            names.push(name.trim().to_owned());
        }
    }
    assert!(names.len() >= 30, "{} dependencies found", names.len());
    names
}

/// Each dependency is named by the sources, the tests or the benches.
#[test]
fn no_dependency_is_unused() {
    let code: String =
        ["src", "tests"].iter().flat_map(|folder| all_code(&house().join(folder))).collect();
    for name in dependencies() {
        assert!(code.contains(&format!("{}::", name.replace('-', "_"))), "{name} is not used");
    }
}

/// What stands in a text between backquotes.
fn quoted(text: &str) -> Vec<&str> {
    text.split('`').skip(1).step_by(2).collect()
}

/// The text of DEVELOPERS.md from one of its words up to another.
fn told_to_developers(from: &str, to: &str) -> String {
    let text = std::fs::read_to_string(house().join("DEVELOPERS.md")).unwrap();
    let (_, rest) = text.split_once(from).expect(from);
    rest.split_once(to).expect(to).0.to_owned()
}

/// Each dependency stands in the table of DEVELOPERS.md once, and nothing else does.
#[test]
fn the_table_of_dependencies_is_that_of_the_manifest() {
    let table = told_to_developers("\n## Dependencies\n", "\n\nNone is unused");
    let rows = table.lines().filter(|line| line.starts_with("| `"));
    let mut told: Vec<&str> =
        rows.flat_map(|row| quoted(row.split('|').nth(1).unwrap_or_default())).collect();
    let mut named = dependencies();
    told.sort_unstable();
    named.sort_unstable();
    assert_eq!(told, named);
}

/// The crates that come in two versions are those that DEVELOPERS.md names.
#[cfg(target_os = "linux")]
#[test]
fn crates_in_two_versions_are_named() {
    let output = Command::new(env!("CARGO"))
        .args(["tree", "--offline", "--locked", "--duplicates", "--depth", "0", "--prefix", "none"])
        .current_dir(house())
        .output()
        .unwrap();
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    let listed = String::from_utf8(output.stdout).unwrap();
    // A crate that is built twice, for the build and for the program, is listed twice, too.
    let mut versions: Vec<(&str, &str)> = listed
        .lines()
        .filter_map(|line| line.split_once(" v"))
        .map(|(name, rest)| (name, rest.split(' ').next().unwrap_or(rest)))
        .collect();
    versions.sort_unstable();
    versions.dedup();
    let mut twice: Vec<&str> =
        versions.windows(2).filter(|pair| pair[0].0 == pair[1].0).map(|pair| pair[0].0).collect();
    twice.dedup();
    let sentence = told_to_developers("Crates that come in two versions", "none can be avoided");
    let mut told: Vec<&str> =
        quoted(&sentence).into_iter().filter(|words| !words.contains(' ')).collect();
    told.sort_unstable();
    assert_eq!(told, twice);
}

/// The text of all Rust files below a folder.
fn all_code(folder: &Path) -> Vec<String> {
    let mut texts = Vec::new();
    for entry in std::fs::read_dir(folder).unwrap().flatten() {
        let path = entry.path();
        match path.is_dir() {
            true => texts.extend(all_code(&path)),
            false if path.extension().is_some_and(|e| e == "rs") => {
                texts.push(std::fs::read_to_string(&path).unwrap());
            }
            false => {}
        }
    }
    texts
}

#[test]
fn unsafe_lines_are_few_named_and_reasoned() {
    let manifest = std::fs::read_to_string(house().join("Cargo.toml")).unwrap();
    assert!(manifest.contains("unsafe_code = \"deny\""));
    for (path, _) in sources(&house().join("src")) {
        let text = std::fs::read_to_string(&path).unwrap();
        let lines: Vec<&str> = text.lines().collect();
        let is_code = |line: &&&str| !line.trim_start().starts_with("//");
        let code = lines.iter().filter(is_code);
        let blocks = code.filter(|line| has_word(line, "unsafe") && !line.contains('"')).count();
        let allowed: Vec<usize> =
            (0..lines.len()).filter(|&i| lines[i].contains("allow(unsafe_code)")).collect();
        assert!(allowed.is_empty() || path.ends_with("video/libav.rs"), "{}", path.display());
        assert_eq!(allowed.len(), blocks, "one block to a permission in {}", path.display());
        for at in allowed {
            let near = &lines[at.saturating_sub(6)..(at + 32).min(lines.len())];
            let reasoned = near.iter().any(|line| line.contains("SAFETY"));
            assert!(reasoned, "no reason near line {} of {}", at + 1, path.display());
        }
    }
}

#[test]
fn what_is_linked_is_free_to_be_passed_on_and_comes_from_one_registry() {
    // The same list as in .deny.toml.
    let free = [
        "MIT",
        "MIT-0",
        "Apache-2.0",
        "Apache-2.0 WITH LLVM-exception",
        "BSD-2-Clause",
        "BSD-3-Clause",
        "BSL-1.0",
        "CC0-1.0",
        "ISC",
        "MPL-2.0",
        "Unicode-3.0",
        "Unlicense",
        "WTFPL",
        "Zlib",
        "0BSD",
    ];
    let deny = std::fs::read_to_string(house().join(".deny.toml")).unwrap();
    assert!(free.iter().all(|licence| deny.contains(&format!("\"{licence}\""))));
    let metadata = |more: &[&str]| {
        Command::new(env!("CARGO"))
            .args(["metadata", "--offline", "--locked", "--format-version", "1"])
            .args(more)
            .current_dir(house())
            .output()
            .unwrap()
    };
    let mut output = metadata(&[]);
    if !output.status.success() {
        // What other systems link was not fetched (`cargo fetch` does): then what this one links.
        let version = Command::new(env!("CARGO")).arg("-vV").output().unwrap().stdout;
        let version = String::from_utf8(version).unwrap();
        let host = version.lines().find_map(|line| line.strip_prefix("host: ")).unwrap();
        output = metadata(&["--filter-platform", host]);
    }
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    let metadata: serde_json::Value = serde_json::from_slice(&output.stdout).unwrap();
    let packages = metadata["packages"].as_array().unwrap();
    assert!(packages.len() > 100);
    for package in packages {
        let (name, terms) = (&package["name"], package["license"].as_str().unwrap_or_default());
        // "A OR B": one of them; "A AND B": both.
        let terms = terms.replace(['(', ')'], "").replace('/', " OR ");
        let fits =
            terms.split(" AND ").all(|all| all.split(" OR ").any(|t| free.contains(&t.trim())));
        assert!(fits, "{name}: {terms}");
        let source = package["source"].as_str();
        let known = source.is_none_or(|s| s.ends_with("//github.com/rust-lang/crates.io-index"));
        assert!(known && (source.is_some() || name == "scuffline"), "{name} from {source:?}");
    }
}
