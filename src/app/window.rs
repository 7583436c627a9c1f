//! The window itself: takes events and keys, lets `update` change the model, draws, sends jobs.

use std::path::PathBuf;

use eframe::egui::{self, Pos2, Ui};

use super::keys;
use super::message::{Event, FileMessage, Job, Message, ScreenMessage, SettingsMessage};
use super::model::{Model, Page, WindowSize};
use super::options::Options;
use super::theme::{self, TextSize, Theme};
use super::update::update;
use super::view::{PictureCache, View, window_ui};
use super::worker::{self, Worker};
use crate::store::SwingId;

/// A window that has had its size for this long is not being resized, seconds.
const SETTLED: f64 = 0.5;

/// Model, worker and what drawing keeps.
pub struct Window {
    model: Model,
    worker: Worker,
    pictures: PictureCache,
    grip: Option<(Pos2, Pos2)>,
    dressed: Option<(Theme, TextSize)>,
    last_current: Option<SwingId>,
    /// The window's size when it last changed, and when that was on egui's clock.
    resized: Option<(WindowSize, f64)>,
    /// The range display has taken the whole screen.
    filled: bool,
    /// Named on the command line; read once the settings are known, which remember them.
    waiting: Vec<PathBuf>,
}

impl Window {
    /// Gives `ctx` the typeface and the first look; before the first pass.
    pub fn prepare(ctx: &egui::Context) {
        ctx.set_fonts(theme::fonts());
        theme::apply(ctx, Theme::default(), TextSize::default());
    }

    /// A window on `options`; `ctx` is woken whenever there is something new.
    pub fn new(ctx: &egui::Context, options: &Options) -> Self {
        let wake = ctx.clone();
        let worker = Worker::start(options, move || wake.request_repaint());
        let mut window = Self {
            model: Model::default(),
            worker,
            pictures: PictureCache::default(),
            grip: None,
            dressed: None,
            last_current: None,
            resized: None,
            filled: false,
            waiting: options.files.clone(),
        };
        window.worker.send(Job::Load);
        window
    }

    /// What the window knows; for tests.
    pub fn model(&self) -> &Model {
        &self.model
    }

    /// Applies a message and sends off the work that follows from it.
    pub fn handle(&mut self, message: impl Into<Message>) {
        let message = message.into();
        let settled = matches!(message, Message::Event(Event::Settings(_)));
        for job in update(&mut self.model, message) {
            self.worker.send(job);
        }
        if settled && !self.waiting.is_empty() {
            let files = std::mem::take(&mut self.waiting);
            self.handle(FileMessage::Import(files));
        }
    }

    /// Waits for the next report of a job, for tests; `false` if none came within `limit`.
    pub fn wait(&mut self, limit: std::time::Duration) -> bool {
        match self.worker.wait(limit) {
            Some(event) => {
                self.handle(Message::Event(event));
                true
            }
            None => false,
        }
    }

    /// One pass: events, keys, drawing, what was done.
    pub fn pass(&mut self, ui: &mut Ui) {
        while let Some(event) = self.worker.poll() {
            self.handle(Message::Event(event));
        }
        let ctx = ui.ctx().clone();
        self.take_dropped_files(&ctx);
        self.remember_size(&ctx);
        self.fill_screen(&ctx);
        if ctx.input(|input| input.viewport().close_requested()) {
            // What is being typed is kept, too.
            self.handle(ScreenMessage::Closing);
        }
        for message in keys::pressed(&ctx, &self.model) {
            self.handle(message);
        }
        let wanted = (self.model.settings.theme, self.model.settings.text_size);
        if self.dressed != Some(wanted) {
            theme::apply(&ctx, wanted.0, wanted.1);
            ui.set_style(ctx.global_style());
            self.dressed = Some(wanted);
        }
        let mut out = Vec::new();
        let mut view = View::new(&self.model, &mut self.pictures, &mut out, &mut self.grip);
        view.scroll_to_current = self.last_current != self.model.current;
        self.last_current = self.model.current;
        window_ui(&mut view, ui);
        let changed = !out.is_empty();
        for message in out {
            self.handle(message);
        }
        if changed {
            ctx.request_repaint();
        }
    }

    /// Keeps the window's size once it has not changed for a moment.
    fn remember_size(&mut self, ctx: &egui::Context) {
        let (size, now) = ctx.input(|input| {
            let maximised = input.viewport().maximized.unwrap_or(false);
            let size = input.content_rect().size();
            (WindowSize { size: [size.x, size.y], maximised }, input.time)
        });
        let known = self.resized.filter(|(before, _)| *before == size);
        let since = known.map_or(now, |(_, since)| since);
        self.resized = Some((size, since));
        let kept = &self.model.settings.window;
        if !self.model.ready || self.filled || kept.is_some_and(|kept| kept == size) {
            return;
        }
        // While it fills the screen, the size it had before is kept for when it does not.
        let size = match (size.maximised, *kept) {
            (true, Some(kept)) if kept.maximised => return,
            (true, Some(kept)) => WindowSize { maximised: true, ..kept },
            _ => size,
        };
        if now - since >= SETTLED {
            self.handle(SettingsMessage::SetWindow(size));
        } else {
            ctx.request_repaint_after_secs((SETTLED - (now - since)) as f32);
        }
    }

    /// The range display takes the whole screen and gives it back.
    fn fill_screen(&mut self, ctx: &egui::Context) {
        let wanted = self.model.page == Page::Range;
        if wanted != self.filled {
            self.filled = wanted;
            ctx.send_viewport_cmd(egui::ViewportCommand::Fullscreen(wanted));
        }
    }

    fn take_dropped_files(&mut self, ctx: &egui::Context) {
        let dropped = ctx.input_mut(|i| std::mem::take(&mut i.raw.dropped_files));
        let paths: Vec<PathBuf> = dropped.iter().map(|file| file.path().to_path_buf()).collect();
        if !paths.is_empty() {
            self.handle(FileMessage::Import(paths));
        }
    }
}

impl eframe::App for Window {
    fn ui(&mut self, ui: &mut Ui, _frame: &mut eframe::Frame) {
        self.pass(ui);
    }
}

/// Opens the window and stays until it is closed.
///
/// # Errors
/// There is no display, or it can't draw.
pub fn run(options: Options) -> Result<(), RunError> {
    crate::video::give_back_large_pictures();
    let kept = worker::kept_window(&options);
    let viewport = egui::ViewportBuilder::default()
        .with_title("scuffline")
        .with_app_id("scuffline")
        .with_inner_size(kept.map_or([1280.0, 800.0], |kept| kept.size))
        .with_maximized(kept.is_some_and(|kept| kept.maximised))
        .with_min_inner_size([860.0, 560.0])
        .with_icon(super::icon::icon());
    let native = eframe::NativeOptions { viewport, ..Default::default() };
    eframe::run_native(
        "scuffline",
        native,
        Box::new(move |cc| {
            Window::prepare(&cc.egui_ctx);
            Ok(Box::new(Window::new(&cc.egui_ctx, &options)))
        }),
    )
    .map_err(|error| RunError { reason: error.to_string() })
}

/// Why the window could not be opened.
#[derive(Debug, thiserror::Error)]
#[error(
    "The window could not be opened ({reason}); check that there is a display, or use the commands listed by --help."
)]
pub struct RunError {
    reason: String,
}
