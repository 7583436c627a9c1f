//! Nothing gets out: no connection, no file outside the library and the places that were chosen.

use std::path::{Path, PathBuf};
use std::process::Command;
use std::time::{Duration, Instant};

use crate::support::display::{display, open_window};
use crate::support::{sample, say};

/// What a run of the program asked of the system.
struct Trace {
    lines: Vec<String>,
}

impl Trace {
    /// Addresses of other machines would show as AF_INET or AF_INET6.
    fn assert_no_connection(&self) {
        let outward = self.lines.iter().find(|line| line.contains("AF_INET"));
        assert!(outward.is_none(), "{outward:?}");
        for line in self.lines.iter().filter(|line| line.contains("socket(")) {
            let local = line.contains("AF_UNIX") || line.contains("AF_NETLINK");
            assert!(local, "{line}");
        }
    }

    /// Files that were opened for writing, made, renamed or removed.
    fn written(&self) -> Vec<PathBuf> {
        let changing = ["O_WRONLY", "O_RDWR", "O_CREAT", "mkdir", "rename", "unlink", "link"];
        let lines = self.lines.iter().filter(|line| {
            changing.iter().any(|word| line.contains(word)) && !line.contains(" = -1 ")
        });
        lines.flat_map(|line| quoted(line)).map(PathBuf::from).collect()
    }

    /// Programs that were started besides the traced one.
    fn started(&self) -> usize {
        let started = |line: &&String| line.contains("execve(") && line.ends_with("= 0");
        self.lines.iter().filter(started).count() - 1
    }
}

/// The quoted texts of a line.
fn quoted(line: &str) -> impl Iterator<Item = String> {
    line.split('"').skip(1).step_by(2).map(str::to_owned)
}

fn strace(trace: &Path, home: &Path) -> Command {
    let mut command = Command::new("strace");
    let calls = "trace=%network,execve,open,openat,creat,mkdir,mkdirat,rename,renameat,renameat2,\
                 unlink,unlinkat,link,linkat,symlink,symlinkat";
    command.args(["-f", "--seccomp-bpf", "-s", "4096", "-e", calls, "-o"]).arg(trace);
    command.arg(env!("CARGO_BIN_EXE_scuffline"));
    command.env("HOME", home).env("TMPDIR", home.join("tmp"));
    for name in ["XDG_DATA_HOME", "XDG_CONFIG_HOME", "XDG_CACHE_HOME", "XDG_STATE_HOME"] {
        command.env_remove(name);
    }
    command
}

fn read(trace: &Path) -> Trace {
    let text = std::fs::read(trace).expect("strace is one of the packages of .ci/packages");
    let lines = String::from_utf8_lossy(&text).lines().map(str::to_owned).collect();
    Trace { lines }
}

fn traced(folder: &Path, arguments: &[&str]) -> Trace {
    let trace = folder.join("trace");
    std::fs::create_dir_all(folder.join("home/tmp")).unwrap();
    let output = strace(&trace, &folder.join("home")).args(arguments).output().unwrap();
    let trouble = String::from_utf8_lossy(&output.stderr);
    assert!(output.status.success(), "{arguments:?}: {trouble}");
    read(&trace)
}

#[test]
fn commands_reach_nobody_and_write_only_where_they_were_told() {
    let folder = tempfile::tempdir().unwrap();
    let place = |name: &str| folder.path().join(name).to_str().unwrap().to_owned();
    let (clip, setup) = (sample("iron_turf_sheet.mp4"), sample("iron_turf_sheet.setup.json"));
    let (clip, setup) = (clip.to_str().unwrap(), setup.to_str().unwrap());
    let library = place("lessons/library.scuffline");
    let measured = traced(folder.path(), &["measure", clip, "--setup", setup]);
    measured.assert_no_connection();
    assert_eq!(written_files(&measured), Vec::<PathBuf>::new(), "measuring writes nothing");

    let in_library = |name: &str| PathBuf::from(place("lessons")).join(name);
    let scan = ["scan", clip, "--setup", setup, "--golfer", "Robin", "--library", &library];
    let scanned = traced(folder.path(), &scan);
    scanned.assert_no_connection();
    for path in written_files(&scanned) {
        assert!(path.starts_with(in_library("")), "{}", path.display());
    }
    // Nor where a library is there, in the unit of which the words come.
    let measured = traced(folder.path(), &["measure", clip, "--library", &library]);
    assert_eq!(written_files(&measured), Vec::<PathBuf>::new(), "measuring writes nothing");
    for ending in ["pdf", "html", "csv", "png", "mp4"] {
        let file = place(&format!("out/robin.{ending}"));
        std::fs::create_dir_all(place("out")).unwrap();
        let export = ["export", &file, "--consent", "Robin", "--library", &library];
        let exported = traced(folder.path(), &export);
        exported.assert_no_connection();
        assert_eq!(exported.started(), 0, "no shell, no other program");
        for path in written_files(&exported) {
            let told = path.starts_with(in_library("")) || path.starts_with(place("out"));
            assert!(told, "{}", path.display());
        }
    }
}

/// What was written, without the system's own devices.
fn written_files(trace: &Trace) -> Vec<PathBuf> {
    let mut files = trace.written();
    files.retain(|path| !path.starts_with("/dev") && !path.starts_with("/proc"));
    files
}

/// Until the invented golfer is there: by then a window has drawn and read.
fn wait_for_golfer(library: &Path) {
    let start = Instant::now();
    let has_golfer = || {
        let library = scuffline::store::Library::open(library);
        library.is_ok_and(|library| library.contents().unwrap().golfers > 0)
    };
    while !has_golfer() && start.elapsed() < Duration::from_secs(120) {
        std::thread::sleep(Duration::from_millis(200));
    }
    assert!(has_golfer());
    std::thread::sleep(Duration::from_secs(2));
}

#[test]
fn the_window_reaches_nobody() {
    let folder = tempfile::tempdir().unwrap();
    let home = folder.path().join("home");
    std::fs::create_dir_all(home.join("tmp")).unwrap();
    let (_server, display) = display();
    let trace = folder.path().join("trace");
    let library = home.join("lessons/library.scuffline");
    let mut program = strace(&trace, &home);
    // The graphics driver's own, in the home of the user it finds out by itself.
    program.env("MESA_SHADER_CACHE_DISABLE", "true");
    let mut window = open_window(program, &display, &library);
    wait_for_golfer(&library);
    assert!(window.0.try_wait().unwrap().is_none(), "the window is open");
    // Killed alone, strace would leave the window running: the first line names its process.
    let pid = read(&trace).lines[0].split(' ').next().unwrap().to_owned();
    assert!(Command::new("kill").arg(pid).status().unwrap().success());
    let _ = window.0.wait();
    let trace = read(&trace);
    assert!(trace.lines.iter().any(|line| line.contains("AF_UNIX")), "it has its display");
    trace.assert_no_connection();
    let elsewhere = |path: &PathBuf| !path.starts_with(&home) && path.is_absolute();
    let elsewhere: Vec<PathBuf> = written_files(&trace).into_iter().filter(elsewhere).collect();
    assert!(elsewhere.is_empty(), "{elsewhere:?}");
}

/// A program where there is no network at all: in a namespace of its own without any route, whose
/// loopback is down.
fn without_network(program: &str) -> Command {
    let mut command = Command::new("unshare");
    command.args(["--map-root-user", "--net", program]);
    command
}

/// Whether there may be such a namespace, and there is no network in it; if there may not be, it
/// is said that nothing was shown.
fn can_do_without_network() -> bool {
    let Ok(output) = without_network("cat").arg("/proc/net/route").output() else {
        say("there is no unshare here; nothing was shown");
        return false;
    };
    if !output.status.success() {
        say("no network namespace may be made here; nothing was shown");
        return false;
    }
    // Some systems put tunnels into every namespace; without a route they lead nowhere.
    let routes = String::from_utf8(output.stdout).unwrap();
    assert!(routes.lines().count() <= 1, "{routes}");
    true
}

#[test]
fn commands_need_no_network() {
    if !can_do_without_network() {
        return;
    }
    let folder = tempfile::tempdir().unwrap();
    let place = |name: &str| folder.path().join(name).to_str().unwrap().to_owned();
    let (clip, setup) = (sample("iron_turf_sheet.mp4"), sample("iron_turf_sheet.setup.json"));
    let (clip, setup) = (clip.to_str().unwrap(), setup.to_str().unwrap());
    let run = |mut command: Command, arguments: &[&str]| -> Vec<u8> {
        let output = command.args(arguments).output().unwrap();
        let trouble = String::from_utf8_lossy(&output.stderr);
        assert!(output.status.success(), "{arguments:?}: {trouble}");
        output.stdout
    };
    let program = env!("CARGO_BIN_EXE_scuffline");
    let measure = ["measure", clip, "--setup", setup, "--json"];
    let inside = run(without_network(program), &measure);
    assert!(!inside.is_empty());
    assert_eq!(inside, run(Command::new(program), &measure));
    let library = place("library.scuffline");
    let scan = ["scan", clip, "--setup", setup, "--golfer", "Robin", "--library", &library];
    run(without_network(program), &scan);
    for ending in ["pdf", "html", "csv", "json", "png", "mp4", "zip"] {
        let file = place(&format!("robin.{ending}"));
        let verb = if ending == "zip" { "bundle" } else { "export" };
        let export = [verb, &file, "--consent", "Robin", "--library", &library];
        run(without_network(program), &export);
        assert!(std::fs::metadata(&file).unwrap().len() > 100, "{file}");
    }
}

#[test]
fn the_window_needs_no_network() {
    if !can_do_without_network() {
        return;
    }
    let folder = tempfile::tempdir().unwrap();
    let library = folder.path().join("library.scuffline");
    let (_server, display) = display();
    let mut program = without_network(env!("CARGO_BIN_EXE_scuffline"));
    program.env("HOME", folder.path()).env("MESA_SHADER_CACHE_DISABLE", "true");
    let mut window = open_window(program, &display, &library);
    wait_for_golfer(&library);
    assert!(window.0.try_wait().unwrap().is_none(), "the window is open");
}
