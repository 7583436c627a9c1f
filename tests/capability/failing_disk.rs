//! A disk that fails while a recording is read: refused with a sentence, never a shorter
//! recording. The reads of the real program are made to fail one after the other by `strace`.

use std::path::{Path, PathBuf};
use std::process::{Command, Output};

use crate::support::numbered::make;

/// What `index` says of a recording, with all reads from number `failing` on refused by the
/// system; and how many of them were.
fn index(clip: &Path, failing: Option<usize>) -> (Output, usize) {
    let trace = clip.with_extension("trace");
    let mut command = Command::new("strace");
    // The path alone is watched, so that nothing else of the program fails.
    command.args(["-f", "-e", "trace=read", "-o"]).arg(&trace).arg("-P").arg(clip);
    if let Some(number) = failing {
        command.arg("-e").arg(format!("inject=read:error=EIO:when={number}+"));
    }
    let output =
        command.arg(env!("CARGO_BIN_EXE_scuffline")).args(["index", "--json"]).arg(clip).output();
    let output = output.expect("strace is one of the packages of .ci/packages");
    let trace = std::fs::read_to_string(&trace).expect("strace writes what it saw");
    (output, trace.matches("(INJECTED)").count())
}

fn clips(folder: &Path) -> Vec<PathBuf> {
    let options = "-c:v libx264 -preset ultrafast -qp 12 -g 10";
    let name = |kind: &str| make(folder, &format!("whole.{kind}"), 60, "30", "", options);
    let faststart = format!("{options} -movflags +faststart");
    let mut clips = ["mp4", "mkv", "ts", "avi"].map(name).to_vec();
    clips.push(make(folder, "faststart.mov", 60, "30", "", &faststart));
    clips
}

#[test]
fn a_read_that_fails_is_told_and_never_taken_for_the_end() {
    let folder = tempfile::tempdir().unwrap();
    for clip in clips(folder.path()) {
        let (whole, none) = index(&clip, None);
        assert!(whole.status.success() && none == 0, "{}", clip.display());
        let mut refused = 0;
        for number in 1.. {
            let (output, injected) = index(&clip, Some(number));
            if injected == 0 {
                assert_eq!(output.stdout, whole.stdout);
                break;
            }
            if output.status.success() {
                // What failed was not needed: nothing is missing.
                assert_eq!(output.stdout, whole.stdout, "{} read {number}", clip.display());
                continue;
            }
            let told = String::from_utf8(output.stderr).unwrap();
            assert!(told.lines().count() == 1 && told.contains("os error 5"), "{told}");
            refused += 1;
        }
        assert!(refused >= 2, "{}: {refused} reads", clip.display());
    }
}
