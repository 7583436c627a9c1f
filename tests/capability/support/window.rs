//! The real window, driven by the names of its controls; its jobs run on their real threads.

use std::time::Duration;

use egui_kittest::{Harness, HarnessBuilder};
use scuffline::app::{Model, Options, Window};

/// A window that its first pass makes.
pub type Driven = Harness<'static, Option<Window>>;

/// A window on `options`.
pub fn drive(builder: HarnessBuilder<Option<Window>>, options: Options) -> Driven {
    builder
        .with_size([1280.0, 800.0])
        .with_max_steps(12)
        .with_context_setup(Window::prepare)
        .build_ui_state(
            move |ui, window: &mut Option<Window>| {
                window.get_or_insert_with(|| Window::new(ui.ctx(), &options)).pass(ui);
            },
            None,
        )
}

/// What the window knows.
pub fn model(driven: &Driven) -> &Model {
    driven.state().as_ref().expect("the first pass makes the window").model()
}

/// Runs passes and takes reports of jobs until `reached`; a minute without any is a failure.
pub fn until(driven: &mut Driven, what: &str, reached: impl Fn(&Model) -> bool) {
    loop {
        driven.run_ok();
        if reached(model(driven)) {
            return;
        }
        let window = driven.state_mut().as_mut().expect("the first pass makes the window");
        let heard = window.wait(Duration::from_secs(60));
        assert!(heard, "waited in vain: {what}; {}", standing(window.model()));
    }
}

/// What a window that waits in vain has got so far.
fn standing(model: &Model) -> String {
    let open = model.open.as_ref().map(|open| {
        let shown = open.shown.as_ref().map(|shown| shown.0);
        (open.timeline.is_some(), open.frame, shown, open.setup.references.len(), &open.trouble)
    });
    format!(
        "{:?}, {:?}, {} swings, {} of {} edits, {} files waiting; opened, frame, shown, references, \
         trouble: {open:?}",
        model.tool,
        model.notices,
        model.swings.len(),
        model.edits_seen,
        model.edits,
        model.queue.len()
    )
}
