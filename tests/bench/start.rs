//! How soon the real program is usable, and whether it rests: it is started on a display of its own
//! (Xvfb, 1280 x 800, software rendering) with a session of twenty swings, the screen is looked at
//! every few milliseconds, and its processor time is read beside it.
//!
//! `cargo run --example bench-start [RECORDING]` prints one JSON object. Build the program first,
//! with the same profile: `cargo build`.

#[cfg(target_os = "linux")]
#[path = "twenty.rs"]
mod twenty;

#[cfg(target_os = "linux")]
#[path = "../capability/support/display.rs"]
mod display;

#[cfg(not(target_os = "linux"))]
fn main() {
    println!("this bench looks at an X display and at /proc; it runs on Linux alone");
}

#[cfg(target_os = "linux")]
fn main() -> anyhow::Result<()> {
    linux::main()
}

#[cfg(target_os = "linux")]
mod linux {
    use std::hash::{DefaultHasher, Hash, Hasher};
    use std::path::{Path, PathBuf};
    use std::process::Command;
    use std::time::{Duration, Instant};

    use anyhow::Context;
    use serde_json::{Value, json};
    use x11rb::connection::Connection;
    use x11rb::protocol::xproto::{ConnectionExt, ImageFormat};
    use x11rb::rust_connection::RustConnection;

    use super::display::{Running, display, open_window};
    use super::twenty::{SWINGS, make_library};

    const SIZE: [u16; 2] = [1280, 800];
    /// Left, top, width, height of what is looked at: the panel with the session's swings from the
    /// swing's own line down, and the middle of the picture.
    const PARTS: [[u16; 4]; 2] = [[970, 110, 300, 680], [200, 200, 560, 400]];
    /// The screen has settled when nothing has changed for so long.
    const SETTLED: Duration = Duration::from_secs(3);
    /// Nothing takes as long as this.
    const LONGEST: Duration = Duration::from_secs(60);
    const IDLE: Duration = Duration::from_secs(10);
    const STARTS: usize = 6;

    pub fn main() -> anyhow::Result<()> {
        let recording = std::env::args().nth(1).map(PathBuf::from).unwrap_or_else(|| {
            Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-frames/iron_four_swings.mp4")
        });
        let folder = tempfile::tempdir()?;
        let library = folder.path().join("library.scuffline");
        make_library(&library, &recording)?;
        let (_server, display) = display();
        let (screen, number) = x11rb::connect(Some(&display))?;
        let root = screen.setup().roots[number].root;
        let mut starts = Vec::new();
        let mut idle = Value::Null;
        for _ in 0..STARTS {
            let (program, start) = start(&display, &library, &screen, root)?;
            idle = rests(&program)?;
            starts.push(start);
        }
        let load = std::fs::read_to_string("/proc/loadavg").unwrap_or_default();
        let (first, again) = starts.split_at(1);
        println!(
            "{:#}",
            json!({
                "swings": SWINGS,
                "size": SIZE,
                "load": load.split(' ').next(),
                "start_first": first[0],
                "start_again": again,
                "left_alone": idle,
            })
        );
        Ok(())
    }

    /// One look at the screen.
    #[derive(Clone, Copy)]
    struct Look {
        after: Duration,
        processor_s: f64,
        parts: [u64; 2],
    }

    /// Starts the program and looks until the screen has settled.
    fn start(
        display: &str,
        library: &Path,
        screen: &RustConnection,
        root: u32,
    ) -> anyhow::Result<(Running, Value)> {
        let built = std::env::current_exe()?;
        let program = built.parent().and_then(Path::parent).context("a folder")?.join("scuffline");
        let blank = [part(screen, root, PARTS[0])?, part(screen, root, PARTS[1])?];
        let begin = Instant::now();
        let running = open_window(Command::new(&program), display, library);
        let looks = look_on(&running, screen, root, blank, begin)?;
        let last = looks.last().context("nothing was ever shown")?.parts;
        // From when on a part is as it stays.
        let since = |i: usize| {
            let from = looks.iter().rposition(|look| look.parts[i] != last[i]).map_or(0, |p| p + 1);
            looks[from]
        };
        let told = |look: Look| {
            json!({
                "wall_ms": look.after.as_millis(),
                "processor_ms": (look.processor_s * 1000.0).round(),
            })
        };
        let value = json!({
            "first_frame": told(looks[0]),
            "swings_shown": told(since(0)),
            "picture_shown": told(since(1)),
        });
        Ok((running, value))
    }

    /// Looks until nothing has changed for a while; only what changed is kept.
    fn look_on(
        program: &Running,
        screen: &RustConnection,
        root: u32,
        blank: [u64; 2],
        begin: Instant,
    ) -> anyhow::Result<Vec<Look>> {
        let (mut looks, mut before, mut changed) = (Vec::new(), blank, Instant::now());
        while changed.elapsed() < SETTLED || looks.is_empty() {
            anyhow::ensure!(begin.elapsed() < LONGEST, "the screen never settled");
            let parts = [part(screen, root, PARTS[0])?, part(screen, root, PARTS[1])?];
            if parts != before {
                (before, changed) = (parts, Instant::now());
                let (after, processor_s) = (begin.elapsed(), processor_time(program)?);
                looks.push(Look { after, processor_s, parts });
            }
            std::thread::sleep(Duration::from_millis(4));
        }
        Ok(looks)
    }

    fn part(
        screen: &RustConnection,
        root: u32,
        [x, y, wide, high]: [u16; 4],
    ) -> anyhow::Result<u64> {
        let (x, y) = (i16::try_from(x)?, i16::try_from(y)?);
        let request = screen.get_image(ImageFormat::Z_PIXMAP, root, x, y, wide, high, u32::MAX)?;
        let mut hasher = DefaultHasher::new();
        request.reply()?.data.hash(&mut hasher);
        Ok(hasher.finish())
    }

    /// Left alone: processor time and what share of one processor that is.
    fn rests(program: &Running) -> anyhow::Result<Value> {
        let before = processor_time(program)?;
        std::thread::sleep(IDLE);
        let used = processor_time(program)? - before;
        let share = used / IDLE.as_secs_f64() * 100.0;
        Ok(json!({
            "seconds": IDLE.as_secs(),
            "processor_ms": (used * 1000.0).round(),
            "percent": (share * 100.0).round() / 100.0,
        }))
    }

    /// Seconds of processor time, all threads together.
    fn processor_time(program: &Running) -> anyhow::Result<f64> {
        // proc(5): fields 14 and 15 of /proc/PID/stat, in ticks of 1/100 s.
        let text = std::fs::read_to_string(format!("/proc/{}/stat", program.0.id()))?;
        let fields: Vec<&str> =
            text.rsplit(')').next().unwrap_or_default().split_whitespace().collect();
        let ticks = |i: usize| -> anyhow::Result<f64> {
            Ok(fields.get(i).context("a field of stat")?.parse::<f64>()?)
        };
        Ok((ticks(11)? + ticks(12)?) / 100.0)
    }
}
