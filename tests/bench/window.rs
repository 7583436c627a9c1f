//! How fast the window is: update, view and tessellation of one pass with a session of twenty
//! swings open at 1920 x 1080, whether it rests when nothing changes, and how soon it is usable.
//! Nothing is painted.
//!
//! `cargo run --example bench-window [RECORDING]` prints one JSON object.

use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

use eframe::egui::{self, Event, Key, Modifiers, Pos2, RawInput, pos2, vec2};
use scuffline::app::{Options, Page, PictureMessage, ScreenMessage, Sheet, SwingMessage, Window};
use serde_json::{Value, json};

#[path = "twenty.rs"]
mod twenty;

use twenty::{SWINGS, make_library};

/// Passes of each kind.
const PASSES: usize = 300;

fn main() -> anyhow::Result<()> {
    let recording = std::env::args().nth(1).map(PathBuf::from).unwrap_or_else(|| {
        Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-frames/iron_four_swings.mp4")
    });
    let folder = tempfile::tempdir()?;
    let library = folder.path().join("library.scuffline");
    make_library(&library, &recording)?;
    let options = Options { library: Some(library), ..Options::default() };
    let cold = start(&options)?;
    let warm: Vec<Value> = (0..5).map(|_| start(&options)).collect::<Result<_, _>>()?;
    let mut bench = Bench::open(&options)?;
    println!(
        "{:#}",
        json!({
            "swings": SWINGS,
            "size": [1920, 1080],
            "start_first": cold,
            "start_again": warm,
            "passes": bench.passes(),
            "rests": bench.rests(),
        })
    );
    Ok(())
}

/// Seconds of processor time that this process has used; `None` where the system does not say.
fn processor_time() -> Option<f64> {
    // proc(5): fields 14 and 15 of /proc/self/stat, in ticks of 1/100 s.
    let text = std::fs::read_to_string("/proc/self/stat").ok()?;
    let fields: Vec<&str> = text.rsplit(')').next()?.split_whitespace().collect();
    Some((fields.get(11)?.parse::<f64>().ok()? + fields.get(12)?.parse::<f64>().ok()?) / 100.0)
}

/// From nothing to the first picture with its marks, without opening a window on a display.
fn start(options: &Options) -> anyhow::Result<Value> {
    let (begin, used) = (Instant::now(), processor_time());
    let bench = Bench::open(options)?;
    let (wall, now) = (begin.elapsed(), processor_time());
    drop(bench);
    let processor = used.zip(now).map(|(a, b)| ((b - a) * 1000.0).round());
    Ok(json!({ "wall_ms": wall.as_millis(), "processor_ms": processor }))
}

struct Bench {
    ctx: egui::Context,
    window: Window,
    time: f64,
    pointer: Pos2,
}

impl Bench {
    /// A window in which a swing's picture is shown.
    fn open(options: &Options) -> anyhow::Result<Self> {
        let ctx = egui::Context::default();
        Window::prepare(&ctx);
        let window = Window::new(&ctx, options);
        let mut bench = Self { ctx, window, time: 0.0, pointer: pos2(700.0, 600.0) };
        bench.until(|bench| {
            let m = bench.window.model();
            m.swings.len() == SWINGS && m.open.as_ref().is_some_and(|o| o.shown.is_some())
        })?;
        Ok(bench)
    }

    fn until(&mut self, reached: impl Fn(&Self) -> bool) -> anyhow::Result<()> {
        while !reached(self) {
            self.pass(Vec::new());
            if !reached(self) {
                anyhow::ensure!(self.window.wait(Duration::from_secs(60)), "waited in vain");
            }
        }
        Ok(())
    }

    /// One pass with these events: milliseconds, and after how long the next one is wanted.
    fn pass(&mut self, events: Vec<Event>) -> (f64, Duration) {
        self.time += 1.0 / 60.0;
        let screen = egui::Rect::from_min_size(Pos2::ZERO, vec2(1920.0, 1080.0));
        let input = RawInput {
            screen_rect: Some(screen),
            time: Some(self.time),
            focused: true,
            events,
            ..RawInput::default()
        };
        let begin = Instant::now();
        let mut output = self.ctx.run_ui(input, |ui| self.window.pass(ui));
        // There is no graphics card to hand them to.
        output.textures_delta.clear();
        let meshes = self.ctx.tessellate(output.shapes, output.pixels_per_point);
        let spent = begin.elapsed().as_secs_f64() * 1000.0;
        std::hint::black_box(meshes);
        let next = output.viewport_output.values().map(|v| v.repaint_delay).min();
        (spent, next.unwrap_or(Duration::MAX))
    }

    fn timed(&mut self, mut events: impl FnMut(&mut Self, usize) -> Vec<Event>) -> Value {
        let mut spent: Vec<f64> = (0..PASSES)
            .map(|i| {
                let events = events(self, i);
                self.pass(events).0
            })
            .collect();
        spent.sort_by(f64::total_cmp);
        let at = |part: f64| (spent[((PASSES - 1) as f64 * part) as usize] * 100.0).round() / 100.0;
        json!({ "median_ms": at(0.5), "p95_ms": at(0.95), "max_ms": at(1.0) })
    }

    fn moved(&mut self, i: usize) -> Vec<Event> {
        let angle = i as f32 * 0.13;
        self.pointer = pos2(750.0 + 400.0 * angle.cos(), 560.0 + 300.0 * angle.sin());
        vec![Event::PointerMoved(self.pointer)]
    }

    fn passes(&mut self) -> Value {
        let still = self.timed(|_, _| Vec::new());
        let moving = self.timed(Self::moved);
        let stepping = self.timed(|_, i| vec![press(Key::Period, i % 2 == 0)]);
        self.window.handle(PictureMessage::ZoomToGround);
        let zooming = self.timed(|bench, i| {
            let mut events = bench.moved(i);
            let delta = vec2(0.0, if i % 20 < 10 { 12.0 } else { -12.0 });
            events.push(wheel(delta));
            events
        });
        let swings = self.timed(|bench, i| {
            bench.window.handle(SwingMessage::StepSwing(if i % 38 < 19 { 1 } else { -1 }));
            Vec::new()
        });
        self.window.handle(ScreenMessage::Open(Sheet::Keys));
        let keys = self.timed(Self::moved);
        self.window.handle(ScreenMessage::CloseSheet);
        self.window.handle(ScreenMessage::Show(Page::Range));
        let range = self.timed(Self::moved);
        self.window.handle(ScreenMessage::Show(Page::Beside));
        let beside = self.timed(|_, i| vec![press(Key::Period, i % 2 == 0)]);
        self.window.handle(ScreenMessage::Show(Page::Measure));
        json!({
            "nothing_happens": still,
            "pointer_over_the_picture": moving,
            "stepping_frames": stepping,
            "zooming_about_the_ball": zooming,
            "from_swing_to_swing": swings,
            "keys_sheet": keys,
            "range_display": range,
            "side_by_side": beside,
        })
    }

    /// After everything has settled: how many of a hundred passes ask for another.
    fn rests(&mut self) -> Value {
        while self.window.wait(Duration::from_millis(1500)) {
            self.pass(Vec::new());
        }
        for _ in 0..60 {
            self.pass(Vec::new());
        }
        let wanting =
            (0..100).filter(|_| self.pass(Vec::new()).1 < Duration::from_secs(3600)).count();
        json!({ "passes_that_ask_for_another_of_100": wanting })
    }
}

fn press(key: Key, pressed: bool) -> Event {
    Event::Key { key, physical_key: None, pressed, repeat: false, modifiers: Modifiers::NONE }
}

fn wheel(delta: egui::Vec2) -> Event {
    Event::MouseWheel {
        unit: egui::MouseWheelUnit::Point,
        delta,
        phase: egui::TouchPhase::Move,
        source: egui::MouseWheelSource::Wheel,
        modifiers: Modifiers::NONE,
    }
}
