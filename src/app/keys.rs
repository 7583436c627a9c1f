//! All keys, once: they are handled, shown in tooltips and listed on the `?` sheet from here.

use eframe::egui::{self, Key, Modifiers};

use super::message::{
    FileMessage, MarkMessage, Message, PictureMessage, ScreenMessage, SettingsMessage,
    SetupMessage, StripMessage, SwingMessage,
};
use super::model::{MarkName, Model, Page, Sheet, Tool};
use super::notebook::{Chapter, NotebookMessage};

/// What a key does.
pub struct Binding {
    /// Keys held with it.
    pub modifiers: Modifiers,
    /// The key.
    pub key: Key,
    /// As written on the `?` sheet.
    pub keys: &'static str,
    /// What it does, in plain words.
    pub words: &'static str,
    /// Under which heading it is listed.
    pub group: &'static str,
    /// A widget that has the keyboard keeps this key for itself.
    pub widget_first: bool,
    /// The message it sends, given what is looked at.
    pub message: fn(&Model) -> Option<Message>,
}

macro_rules! keys {
    ($($group:literal: $( $mods:ident + $key:ident, $shown:literal, $words:literal, $first:literal => $message:expr; )+ )+) => {
        vec![$($(Binding {
            modifiers: Modifiers::$mods,
            key: Key::$key,
            keys: $shown,
            words: $words,
            group: $group,
            widget_first: $first,
            message: $message,
        },)+)+]
    };
}

/// Every key of the window. Order matters: those with modifiers come first.
pub fn bindings() -> Vec<Binding> {
    keys! {
        "Swings":
        NONE + Enter, "Enter or A", "Accept and go to the next doubtful swing", true => |m| Some(match m.tool {
            Tool::Edge(_) => MarkMessage::EndEdge.into(),
            _ => SwingMessage::Accept.into(),
        });
        NONE + A, "", "", false => |_| Some(Message::Swing(SwingMessage::Accept));
        NONE + PageDown, "Page down or N", "Next swing", false => |_| Some(Message::Swing(SwingMessage::StepSwing(1)));
        NONE + N, "", "", false => |_| Some(Message::Swing(SwingMessage::StepSwing(1)));
        NONE + PageUp, "Page up or P", "Previous swing", false => |_| Some(Message::Swing(SwingMessage::StepSwing(-1)));
        NONE + P, "", "", false => |_| Some(Message::Swing(SwingMessage::StepSwing(-1)));
        NONE + L, "L", "Leave the swing out, or count it again", false => |m| {
            m.current_swing().map(|s| Message::Swing(SwingMessage::LeaveOut(!s.left_out)))
        };
        SHIFT + S, "Shift S", "The strike is between this frame and the next", false => |_| Some(Message::Mark(MarkMessage::StrikeHere));
        "Frames":
        SHIFT + Comma, "", "", false => |_| Some(Message::Picture(PictureMessage::StepFrame(-10)));
        SHIFT + Period, "", "", false => |_| Some(Message::Picture(PictureMessage::StepFrame(10)));
        NONE + Comma, ", and .", "One frame back or on; Shift: ten frames", false => |_| Some(Message::Picture(PictureMessage::StepFrame(-1)));
        NONE + Period, "", "", false => |_| Some(Message::Picture(PictureMessage::StepFrame(1)));
        NONE + S, "S", "Show the strike", false => |_| Some(Message::Picture(PictureMessage::ShowStrike));
        NONE + Space, "Space bar", "Play, or stop", true => |m| Some(StripMessage::Play(!m.play.running).into());
        NONE + OpenBracket, "[ and ]", "Play slower or faster", false => |_| Some(StripMessage::StepSpeed(-1).into());
        NONE + CloseBracket, "", "", false => |_| Some(StripMessage::StepSpeed(1).into());
        NONE + Home, "Home and End", "First and last frame", true => |_| Some(Message::Picture(PictureMessage::StepFrame(i64::MIN / 2)));
        NONE + End, "", "", true => |_| Some(Message::Picture(PictureMessage::StepFrame(i64::MAX / 2)));
        "Marks":
        NONE + Num1, "1", "Something of known size", false => |_| Some(Message::Screen(ScreenMessage::Open(Sheet::Reference)));
        NONE + Y, "Y", "Yes, use what was found", false => |m| {
            let object = m.proposed().map(|_| SetupMessage::AcceptReference(None));
            object.or_else(|| m.proposed_line().map(|_| SetupMessage::AcceptLine)).map(Message::Setup)
        };
        NONE + Num2, "2", "Ball", false => |_| place(MarkName::Ball);
        NONE + Num3, "3", "Divot start", false => |_| place(MarkName::DivotStart);
        NONE + Num4, "4", "Divot end", false => |_| place(MarkName::DivotEnd);
        NONE + Num5, "5", "Lead heel", false => |_| place(MarkName::LeadHeel);
        NONE + Num6, "6", "Trail heel", false => |_| place(MarkName::TrailHeel);
        NONE + Num7, "7", "Target line", false => |_| Some(Message::Mark(MarkMessage::Choose(Tool::TargetLine(Vec::new()))));
        NONE + Num8, "8", "Ball line, where the ball would lie", false => |_| place(MarkName::BallLine);
        NONE + Num9, "9", "Reach line of a drill", false => |_| place(MarkName::ReachLine);
        NONE + H, "H", "Club head, frame by frame; Esc ends it", false => |_| Some(Message::Mark(MarkMessage::Choose(Tool::ClubHead)));
        NONE + E, "E", "Tee, where it goes into the ground", false => |_| place(MarkName::Tee);
        NONE + W, "W", "Straight edge, which tells the lens; Enter ends it", false => |_| Some(MarkMessage::Choose(Tool::Edge(Vec::new())).into());
        NONE + Delete, "Delete", "Take the selected mark away", true => |_| Some(Message::Mark(MarkMessage::RemoveMark));
        SHIFT + ArrowLeft, "", "", true => |m| arrow(m, [-1.0, 0.0], -10);
        SHIFT + ArrowRight, "", "", true => |m| arrow(m, [1.0, 0.0], 10);
        SHIFT + ArrowUp, "", "", true => |m| arrow(m, [0.0, -1.0], 0);
        SHIFT + ArrowDown, "", "", true => |m| arrow(m, [0.0, 1.0], 0);
        NONE + ArrowLeft, "Arrows", "Move the selected mark by 0.1 pixel (Shift: 1 pixel); with none selected, step frames", true => |m| arrow(m, [-0.1, 0.0], -1);
        NONE + ArrowRight, "", "", true => |m| arrow(m, [0.1, 0.0], 1);
        NONE + ArrowUp, "", "", true => |m| arrow(m, [0.0, -0.1], 0);
        NONE + ArrowDown, "", "", true => |m| arrow(m, [0.0, 0.1], 0);
        "Picture":
        NONE + G, "G", "Close to the ball and its marks", false => |_| Some(Message::Picture(PictureMessage::ZoomToGround));
        NONE + F, "F", "Whole picture", false => |_| Some(Message::Picture(PictureMessage::Fit));
        NONE + Num0, "0", "One picture pixel a screen pixel", false => |_| Some(Message::Picture(PictureMessage::RealSize { points: 1.0 }));
        "Window":
        COMMAND + O, "Ctrl O", "Open recordings", false => |_| Some(Message::File(FileMessage::AskForFiles));
        COMMAND + Y, "", "", false => |_| Some(Message::Swing(SwingMessage::Redo));
        NONE + U, "U or Ctrl Z", "Undo", false => |_| Some(Message::Swing(SwingMessage::Undo));
        NONE + R, "R or Ctrl Shift Z", "Redo", false => |_| Some(Message::Swing(SwingMessage::Redo));
        NONE + C, "C", "Golfers and sessions", false => |_| Some(Message::Screen(ScreenMessage::Open(Sheet::Chooser)));
        NONE + T, "T", "Light, dark, sunlight by turns", false => |m| {
            Some(Message::Settings(SettingsMessage::SetTheme(m.settings.theme.next())))
        };
        NONE + F8, "F8", "Notebook: numbers, drills, people", false => |m| Some(match m.page {
            Page::Notebook(_) => Message::Screen(ScreenMessage::Show(Page::Measure)),
            _ => Message::Notebook(NotebookMessage::Open(m.notebook.last)),
        });
        NONE + F9, "F9", "Two swings side by side", false => |m| {
            Some(Message::Screen(ScreenMessage::Show(if m.page == Page::Beside { Page::Measure } else { Page::Beside })))
        };
        NONE + F10, "F10", "Comparison of blocks and sessions", false => |m| {
            let here = Page::Notebook(Chapter::Comparison);
            Some(Message::Screen(ScreenMessage::Show(if m.page == here { Page::Measure } else { here })))
        };
        NONE + F11, "F11", "Range display", false => |m| {
            Some(Message::Screen(ScreenMessage::Show(if m.page == Page::Range { Page::Measure } else { Page::Range })))
        };
        NONE + F1, "? or F1", "This sheet", false => |_| Some(Message::Screen(ScreenMessage::Open(Sheet::Keys)));
        NONE + Questionmark, "", "", false => |_| Some(Message::Screen(ScreenMessage::Open(Sheet::Keys)));
        SHIFT + Questionmark, "", "", false => |_| Some(Message::Screen(ScreenMessage::Open(Sheet::Keys)));
        NONE + Escape, "Esc", "Step out of whatever is going on", false => |_| Some(Message::Screen(ScreenMessage::Escape));
    }
}

fn place(name: MarkName) -> Option<Message> {
    Some(Message::Mark(MarkMessage::Choose(Tool::Place(name))))
}

fn arrow(model: &Model, by: [f64; 2], frames: i64) -> Option<Message> {
    match model.selected {
        Some(_) => Some(Message::Mark(MarkMessage::Nudge(by))),
        None if frames != 0 => Some(Message::Picture(PictureMessage::StepFrame(frames))),
        None => None,
    }
}

/// What a key does while a sheet lies over the page: the guide's pages are turned; what lies
/// beneath and cannot be seen well is not stepped through, accepted or changed unawares.
fn over(sheet: Sheet, key: Key, message: Option<Message>) -> Option<Message> {
    match (sheet, key) {
        (Sheet::Guide(_), Key::Enter | Key::ArrowRight | Key::PageDown) => {
            return Some(ScreenMessage::TurnPage(1).into());
        }
        (Sheet::Guide(_), Key::ArrowLeft | Key::PageUp) => {
            return Some(ScreenMessage::TurnPage(-1).into());
        }
        _ => {}
    }
    message.filter(|message| match message {
        Message::Screen(_) | Message::Settings(_) | Message::File(_) | Message::Notebook(_) => true,
        Message::Swing(SwingMessage::Undo | SwingMessage::Redo) => true,
        // Takes the sheet away.
        Message::Mark(MarkMessage::Choose(_)) => true,
        Message::Setup(_) => sheet == Sheet::Reference,
        _ => false,
    })
}

/// Takes the keys pressed in this pass and turns them into messages.
pub fn pressed(ctx: &egui::Context, model: &Model, bindings: &[Binding]) -> Vec<Message> {
    if ctx.text_edit_focused() {
        let escape = ctx.input_mut(|i| i.consume_key(Modifiers::NONE, Key::Escape));
        return if escape { vec![Message::Screen(ScreenMessage::Escape)] } else { Vec::new() };
    }
    let widget_has_keys = !super::focus::picture_has_keys(ctx, model);
    let mut messages = Vec::new();
    ctx.input_mut(|input| {
        // Undo and redo share a key; consuming "Ctrl Z" would also take "Ctrl Shift Z".
        let shifted = Modifiers::COMMAND | Modifiers::SHIFT;
        for _ in 0..input.count_and_consume_key(shifted, Key::Z) {
            messages.push(Message::Swing(SwingMessage::Redo));
        }
        for _ in 0..input.count_and_consume_key(Modifiers::COMMAND, Key::Z) {
            messages.push(Message::Swing(SwingMessage::Undo));
        }
        for binding in bindings {
            if binding.widget_first && widget_has_keys {
                continue;
            }
            for _ in 0..input.count_and_consume_key(binding.modifiers, binding.key) {
                let message = (binding.message)(model);
                messages.extend(match model.sheet {
                    None => message,
                    Some(sheet) => over(sheet, binding.key, message),
                });
            }
        }
    });
    messages
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_key_is_bound_twice() {
        let all = bindings();
        for (i, a) in all.iter().enumerate() {
            for b in &all[i + 1..] {
                let same = a.key == b.key && a.modifiers == b.modifiers;
                assert!(!same, "{:?} is bound to {} and {}", a.key, a.words, b.words);
            }
        }
    }

    #[test]
    fn beneath_a_sheet_nothing_is_changed_by_a_key() {
        let accept = || Some(Message::Swing(SwingMessage::Accept));
        let turned = over(Sheet::Guide(0), Key::Enter, accept());
        assert!(matches!(turned, Some(Message::Screen(ScreenMessage::TurnPage(1)))));
        assert!(over(Sheet::Keys, Key::Enter, accept()).is_none());
        assert!(over(Sheet::Chooser, Key::Delete, Some(MarkMessage::RemoveMark.into())).is_none());
        let undo = Some(Message::Swing(SwingMessage::Undo));
        assert!(over(Sheet::Keys, Key::U, undo).is_some());
    }

    #[test]
    fn arrows_step_frames_until_a_mark_is_selected() {
        let mut model = Model::default();
        assert!(matches!(
            arrow(&model, [0.1, 0.0], 1),
            Some(Message::Picture(PictureMessage::StepFrame(1)))
        ));
        model.selected = Some(MarkName::Ball);
        assert!(
            matches!(arrow(&model, [0.1, 0.0], 1), Some(Message::Mark(MarkMessage::Nudge([x, _]))) if x == 0.1)
        );
    }
}
