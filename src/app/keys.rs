//! All keys, once: they are handled, shown in tooltips and menus and listed on the `?` sheet from
//! here.

use std::sync::LazyLock;

use eframe::egui::{self, Key, Modifiers};

use super::message::{
    BesideMessage, FileMessage, MarkMessage, Message, PictureMessage, ScreenMessage,
    SettingsMessage, SetupMessage, StripMessage, SwingMessage,
};
use super::model::{MarkName, Model, Page, Sheet, Tone, Tool};
use super::notebook::{Chapter, NotebookMessage};
use crate::domain::{GroundAnswer, SwingNumber};

/// What a key does.
pub struct Binding {
    /// What it does.
    pub act: Act,
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

/// A key or a wheel that is held or turned over the picture; `view/canvas.rs` looks for it.
#[derive(Clone, Copy, Debug)]
pub struct Held {
    /// As written on the `?` sheet.
    pub keys: &'static str,
    /// What it does, in plain words.
    pub words: &'static str,
}

/// Held: the ground before and after.
pub const BLINK: (Key, Held) =
    (Key::B, Held { keys: "Hold B", words: "Blink between before and after" });
/// Held: what has changed.
pub const CHANGES: (Key, Held) =
    (Key::D, Held { keys: "Hold D", words: "What has changed on the ground" });
/// Turned.
pub const WHEEL: Held = Held { keys: "Wheel", words: "Zoom to the pointer; drag to move" };
/// The guide's pages, on and back.
pub const GUIDE: [&str; 2] = ["Enter", "Arrow left"];

/// What keys do: to name a key where something else does the same.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Act {
    /// Accept and go to the next doubtful swing.
    Accept,
    /// Next swing.
    NextSwing,
    /// Previous swing.
    LastSwing,
    /// Leave the swing out, or count it again.
    LeaveOut,
    /// A strike, or a practice swing.
    Kind,
    /// The strike is between this frame and the next.
    StrikeHere,
    /// Where the doubt of a number comes from; again: the next number.
    Budget,
    /// One frame back; Shift: ten.
    BackFrame,
    /// One frame on; Shift: ten.
    NextFrame,
    /// Show the strike.
    Strike,
    /// Play, or stop.
    Play,
    /// Play slower.
    Slower,
    /// Play faster.
    Faster,
    /// First and last frame.
    FirstFrame,
    /// Side by side: the other one moves alone.
    LineUp,
    /// Side by side: one over the other, or beside it.
    Over,
    /// Something of known size.
    KnownSize,
    /// Yes, use what was found.
    Yes,
    /// Ball.
    Ball,
    /// Where the mark in the ground begins.
    Start,
    /// Where it ends.
    End,
    /// No mark in the ground, or as found again.
    NoMark,
    /// The ground cannot be seen, or as found again.
    Unseen,
    /// Lead heel.
    LeadHeel,
    /// Trail heel.
    TrailHeel,
    /// Target line.
    TargetLine,
    /// Ball line, where the ball would lie.
    BallLine,
    /// Reach line of a drill.
    ReachLine,
    /// Club head, frame by frame; Esc ends it.
    ClubHead,
    /// Tee, where it goes into the ground.
    Tee,
    /// Lens.
    Lens,
    /// Straight edge, which tells the lens; Enter ends it.
    Edge,
    /// Take the selected mark away.
    Remove,
    /// Move the selected mark by 0.1 pixel (Shift: 1 pixel); with none selected, step frames.
    Nudge,
    /// Close to the ball and its marks.
    CloseUp,
    /// Whole picture.
    Whole,
    /// One picture pixel a screen pixel.
    RealSize,
    /// Darker; Shift: less contrast.
    Darker,
    /// Lighter; Shift: more contrast.
    Lighter,
    /// Brightness and contrast as filmed.
    AsFilmed,
    /// Open recordings.
    Open,
    /// New session.
    NewSession,
    /// Watch a folder for new recordings, or stop.
    Watch,
    /// Send home.
    SendHome,
    /// Next chapter of the notebook.
    NextChapter,
    /// Previous chapter.
    LastChapter,
    /// Redo.
    Redo,
    /// Undo.
    Undo,
    /// Golfers and sessions.
    People,
    /// Light, dark, sunlight by turns.
    Theme,
    /// Look, units, brightness.
    Look,
    /// Guided first measurement.
    Guide,
    /// Notebook: numbers, drills, people.
    Notebook,
    /// Two swings side by side.
    Beside,
    /// Comparison of blocks and sessions.
    Comparison,
    /// Range display.
    Range,
    /// This sheet.
    Keys,
    /// Step out of whatever is going on.
    StepOut,
}

macro_rules! keys {
    ($($group:literal: $( $act:ident: $mods:ident + $key:ident, $shown:literal, $words:literal, $first:literal => $message:expr; )+ )+) => {
        vec![$($(Binding {
            act: Act::$act,
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

/// Every key of the window.
pub fn bindings() -> &'static [Binding] {
    static ALL: LazyLock<Vec<Binding>> = LazyLock::new(all);
    &ALL
}

/// The keys for something, as on the `?` sheet: "U or Ctrl Z".
pub fn shown(act: Act) -> &'static str {
    let listed = bindings().iter().find(|b| b.act == act && !b.keys.is_empty());
    listed.map_or("", |binding| binding.keys)
}

/// The first of them, for a menu: "U".
pub fn short(act: Act) -> &'static str {
    let all = shown(act);
    all.split([','])
        .next()
        .filter(|first| !first.is_empty())
        .map_or(all, |first| first.split(" or ").next().unwrap_or(first))
}

/// Words for a tooltip, with the keys behind them: "Whole picture (F)".
pub fn hint(words: &str, act: Act) -> String {
    format!("{words} ({})", shown(act))
}

fn all() -> Vec<Binding> {
    keys! {
        "Swings":
        Accept: NONE + Enter, "Enter or A", "Accept and go to the next doubtful swing", true => |m| Some(match m.tool {
            Tool::Edge(_) => MarkMessage::EndEdge.into(),
            _ => SwingMessage::Accept.into(),});
        Accept: NONE + A, "", "", false => |_| Some(SwingMessage::Accept.into());
        NextSwing: NONE + PageDown, "Page down or N", "Next swing", false => |_| Some(SwingMessage::StepSwing(1).into());
        NextSwing: NONE + N, "", "", false => |_| Some(SwingMessage::StepSwing(1).into());
        LastSwing: NONE + PageUp, "Page up or P", "Previous swing", false => |_| Some(SwingMessage::StepSwing(-1).into());
        LastSwing: NONE + P, "", "", false => |_| Some(SwingMessage::StepSwing(-1).into());
        LeaveOut: NONE + L, "L", "Leave the swing out, or count it again", false => |m| {
            m.current_swing().map(|s| SwingMessage::LeaveOut(!s.left_out).into())
            };
        Kind: NONE + Q, "Q", "A strike, or a practice swing", false => |m| {
            m.current_swing().map(|s| SwingMessage::SetKind(s.kind.other()).into())
            };
        StrikeHere: SHIFT + S, "Shift S", "The strike is between this frame and the next", false => |_| Some(MarkMessage::StrikeHere.into());
        Budget: NONE + I, "I", "Where the doubt of a number comes from; again: the next number", false => |m| {
            Some(next_budget(m).map_or(ScreenMessage::CloseSheet, ScreenMessage::Open).into())
            };
        "Frames":
        BackFrame: SHIFT + Comma, "", "", false => |_| Some(PictureMessage::StepFrame(-10).into());
        NextFrame: SHIFT + Period, "", "", false => |_| Some(PictureMessage::StepFrame(10).into());
        BackFrame: NONE + Comma, ",", "One frame back; Shift: ten", false => |_| Some(PictureMessage::StepFrame(-1).into());
        NextFrame: NONE + Period, ".", "One frame on; Shift: ten", false => |_| Some(PictureMessage::StepFrame(1).into());
        Strike: NONE + S, "S", "Show the strike", false => |_| Some(PictureMessage::ShowStrike.into());
        Play: NONE + Space, "Space bar", "Play, or stop", true => |m| Some(StripMessage::Play(!m.play.running).into());
        Slower: NONE + OpenBracket, "[", "Play slower", false => |_| Some(StripMessage::StepSpeed(-1).into());
        Faster: NONE + CloseBracket, "]", "Play faster", false => |_| Some(StripMessage::StepSpeed(1).into());
        FirstFrame: NONE + Home, "Home and End", "First and last frame", true => |_| Some(PictureMessage::StepFrame(i64::MIN / 2).into());
        FirstFrame: NONE + End, "", "", true => |_| Some(PictureMessage::StepFrame(i64::MAX / 2).into());
        LineUp: NONE + Minus, "− and +", "Side by side: the other one alone, a frame back or on", false => |m| beside(m, BesideMessage::Shift(-1));
        LineUp: NONE + Plus, "", "", false => |m| beside(m, BesideMessage::Shift(1));
        LineUp: SHIFT + Plus, "", "", false => |m| beside(m, BesideMessage::Shift(1));
        LineUp: NONE + Equals, "", "", false => |m| beside(m, BesideMessage::Shift(1));
        Over: NONE + V, "V", "Side by side: one over the other, or beside it", false => |m| beside(m, BesideMessage::Over(!m.beside.over));
        "Marks":
        KnownSize: NONE + Num1, "1", "Something of known size", false => |_| Some(ScreenMessage::Open(Sheet::Reference).into());
        Yes: NONE + Y, "Y", "Yes, use what was found", false => |m| {
            let object = m.proposed().map(|_| SetupMessage::AcceptReference(None));
            object.or_else(|| m.proposed_line().map(|_| SetupMessage::AcceptLine)).map(Message::Setup)
            };
        Ball: NONE + Num2, "2", "Ball", false => |_| place(MarkName::Ball);
        Start: NONE + Num3, "3", "Where the mark in the ground begins", false => |_| place(MarkName::DivotStart);
        End: NONE + Num4, "4", "Where it ends", false => |_| place(MarkName::DivotEnd);
        NoMark: NONE + M, "M", "No mark in the ground, or as found again", false => |m| say(m, GroundAnswer::None);
        Unseen: SHIFT + M, "Shift M", "The ground cannot be seen, or as found again", false => |m| say(m, GroundAnswer::Unseen);
        LeadHeel: NONE + Num5, "5", "Lead heel", false => |_| place(MarkName::LeadHeel);
        TrailHeel: NONE + Num6, "6", "Trail heel", false => |_| place(MarkName::TrailHeel);
        TargetLine: NONE + Num7, "7", "Target line", false => |_| Some(MarkMessage::Choose(Tool::TargetLine(Vec::new())).into());
        BallLine: NONE + Num8, "8", "Ball line, where the ball would lie", false => |_| place(MarkName::BallLine);
        ReachLine: NONE + Num9, "9", "Reach line of a drill", false => |_| place(MarkName::ReachLine);
        ClubHead: NONE + H, "H", "Club head, frame by frame; Esc ends it", false => |_| Some(MarkMessage::Choose(Tool::ClubHead).into());
        Tee: NONE + E, "E", "Tee, where it goes into the ground", false => |_| place(MarkName::Tee);
        Lens: NONE + O, "O", "Lens", false => |_| Some(ScreenMessage::Open(Sheet::Lens).into());
        Edge: NONE + W, "W", "Straight edge, which tells the lens; Enter ends it", false => |_| Some(MarkMessage::Choose(Tool::Edge(Vec::new())).into());
        Remove: NONE + Delete, "Delete", "Take the selected mark away", true => |_| Some(MarkMessage::RemoveMark.into());
        Nudge: SHIFT + ArrowLeft, "", "", true => |m| arrow(m, [-1.0, 0.0], -10);
        Nudge: SHIFT + ArrowRight, "", "", true => |m| arrow(m, [1.0, 0.0], 10);
        Nudge: SHIFT + ArrowUp, "", "", true => |m| arrow(m, [0.0, -1.0], 0);
        Nudge: SHIFT + ArrowDown, "", "", true => |m| arrow(m, [0.0, 1.0], 0);
        Nudge: NONE + ArrowLeft, "Arrows", "Move the selected mark by 0.1 pixel (Shift: 1 pixel); with none selected, step frames", true => |m| arrow(m, [-0.1, 0.0], -1);
        Nudge: NONE + ArrowRight, "", "", true => |m| arrow(m, [0.1, 0.0], 1);
        Nudge: NONE + ArrowUp, "", "", true => |m| arrow(m, [0.0, -0.1], 0);
        Nudge: NONE + ArrowDown, "", "", true => |m| arrow(m, [0.0, 0.1], 0);
        "Picture":
        CloseUp: NONE + G, "G", "Close to the ball and its marks", false => |_| Some(PictureMessage::ZoomToGround.into());
        Whole: NONE + F, "F", "Whole picture", false => |_| Some(PictureMessage::Fit.into());
        RealSize: NONE + Num0, "0", "One picture pixel a screen pixel", false => |_| Some(PictureMessage::RealSize { points: 1.0 }.into());
        Darker: SHIFT + J, "", "", false => |m| tone(m, 0.0, 1.0 / 1.15);
        Lighter: SHIFT + K, "", "", false => |m| tone(m, 0.0, 1.15);
        Darker: NONE + J, "J", "Darker; Shift: less contrast", false => |m| tone(m, -0.04, 1.0);
        Lighter: NONE + K, "K", "Lighter; Shift: more contrast", false => |m| tone(m, 0.04, 1.0);
        AsFilmed: NONE + X, "X", "Brightness and contrast as filmed", false => |_| Some(PictureMessage::SetTone(Tone::default()).into());
        "Files":
        Open: COMMAND + O, "Ctrl O", "Open recordings", false => |_| Some(FileMessage::AskForFiles.into());
        NewSession: COMMAND + N, "Ctrl N", "New session", false => |_| Some(SwingMessage::AddSession.into());
        Watch: NONE + F5, "F5", "Watch a folder for new recordings, or stop", false => |m| Some(FileMessage::Watch(m.watched.is_none()).into());
        SendHome: NONE + F6, "F6", "Send home", false => |m| Some(turn_to(m, Chapter::Send));
        "Pages":
        NextChapter: COMMAND + PageDown, "Ctrl Page down", "Next chapter of the notebook", false => |m| Some(step_chapter(m, 1));
        LastChapter: COMMAND + PageUp, "Ctrl Page up", "Previous chapter", false => |m| Some(step_chapter(m, -1));
        Notebook: NONE + F8, "F8", "Notebook: numbers, drills, people", false => |m| Some(match m.page {
            Page::Notebook(_) => ScreenMessage::Show(Page::Measure).into(),
            _ => NotebookMessage::Open(m.notebook.last).into(),});
        Beside: NONE + F9, "F9", "Two swings side by side", false => |m| Some(show_or_leave(m, Page::Beside));
        Comparison: NONE + F10, "F10", "Comparison of blocks and sessions", false => |m| Some(turn_to(m, Chapter::Comparison));
        Range: NONE + F11, "F11", "Range display", false => |m| Some(show_or_leave(m, Page::Range));
        "Window":
        Redo: COMMAND + Y, "", "", false => |_| Some(SwingMessage::Redo.into());
        Undo: NONE + U, "U or Ctrl Z", "Undo", false => |_| Some(SwingMessage::Undo.into());
        Redo: NONE + R, "R, Ctrl Y or Ctrl Shift Z", "Redo", false => |_| Some(SwingMessage::Redo.into());
        People: NONE + C, "C", "Golfers and sessions", false => |_| Some(ScreenMessage::Open(Sheet::Chooser).into());
        Theme: NONE + T, "T", "Light, dark, sunlight by turns", false => |m| {
            Some(SettingsMessage::SetTheme(m.settings.theme.next()).into())
            };
        Look: NONE + F2, "F2", "Look, units, brightness", false => |_| Some(ScreenMessage::Open(Sheet::Settings).into());
        Guide: NONE + F3, "F3", "Guided first measurement", false => |_| Some(ScreenMessage::Open(Sheet::Guide(0)).into());
        Keys: NONE + F1, "? or F1", "This sheet", false => |_| Some(ScreenMessage::Open(Sheet::Keys).into());
        Keys: NONE + Questionmark, "", "", false => |_| Some(ScreenMessage::Open(Sheet::Keys).into());
        Keys: SHIFT + Questionmark, "", "", false => |_| Some(ScreenMessage::Open(Sheet::Keys).into());
        StepOut: NONE + Escape, "Esc", "Step out of whatever is going on", false => |_| Some(ScreenMessage::Escape.into());
    }
}

/// The person's answer for the ground; the same again lets the program be believed.
fn say(model: &Model, answer: GroundAnswer) -> Option<Message> {
    let said = model.current_swing()?.marks.ground;
    Some(MarkMessage::SayGround(Some(answer).filter(|_| said != Some(answer))).into())
}

/// For the page of two swings alone.
fn beside(model: &Model, message: BesideMessage) -> Option<Message> {
    matches!(model.page, Page::Beside).then(|| message.into())
}

fn tone(model: &Model, brightness: f32, contrast: f32) -> Option<Message> {
    let Tone { brightness: b, contrast: c } = model.tone;
    let tone = Tone { brightness: b + brightness, contrast: c * contrast };
    Some(PictureMessage::SetTone(tone).into())
}

/// The budget of the next number of the swing looked at; `None` after the last.
fn next_budget(model: &Model) -> Option<Sheet> {
    let result = model.current_swing()?.result.as_ref()?;
    let known = SwingNumber::ALL.into_iter().filter(|number| result.number(*number).is_some());
    let mut rest = known.skip_while(|number| match model.sheet {
        Some(Sheet::Budget(shown)) => *number != shown,
        _ => false,
    });
    if matches!(model.sheet, Some(Sheet::Budget(_))) {
        rest.next();
    }
    rest.next().map(Sheet::Budget)
}

/// Shows a page; from there, the picture again.
fn show_or_leave(model: &Model, page: Page) -> Message {
    ScreenMessage::Show(if model.page == page { Page::Measure } else { page }).into()
}

/// Turns to a chapter; from there, to the picture again.
fn turn_to(model: &Model, chapter: Chapter) -> Message {
    show_or_leave(model, Page::Notebook(chapter))
}

/// The chapter before or after the one looked at; from elsewhere the one looked at last.
fn step_chapter(model: &Model, by: isize) -> Message {
    let Page::Notebook(chapter) = model.page else {
        return NotebookMessage::Open(model.notebook.last).into();
    };
    let here = Chapter::ALL.iter().position(|one| *one == chapter).unwrap_or(0);
    let to = here.saturating_add_signed(by).min(Chapter::ALL.len() - 1);
    NotebookMessage::Open(Chapter::ALL[to]).into()
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
        // Seen behind the sheet that sets them, and begun anew by no mistake.
        Message::Picture(PictureMessage::SetTone(_)) => sheet == Sheet::Settings,
        Message::Swing(SwingMessage::AddSession) => sheet == Sheet::Chooser,
        Message::Setup(_) => sheet == Sheet::Reference,
        _ => false,
    })
}

/// Whether what a key does can be seen on the page: no mark is placed and no swing accepted
/// where there is no picture of it.
fn is_seen(page: Page, message: &Message) -> bool {
    let of_swing =
        matches!(message, Message::Swing(SwingMessage::Accept | SwingMessage::SetKind(_)));
    match page {
        Page::Measure => true,
        Page::Beside => !matches!(message, Message::Mark(_) | Message::Setup(_)),
        Page::Range => !of_swing && !matches!(message, Message::Mark(_) | Message::Setup(_)),
        Page::Notebook(_) => {
            let left_out = matches!(message, Message::Swing(SwingMessage::LeaveOut(_)));
            !of_swing && !left_out && !matches!(message, Message::Mark(_) | Message::Setup(_))
        }
    }
}

/// Takes the keys pressed in this pass and turns them into messages.
pub fn pressed(ctx: &egui::Context, model: &Model) -> Vec<Message> {
    if ctx.text_edit_focused() {
        let escape = ctx.input_mut(|i| i.consume_key(Modifiers::NONE, Key::Escape));
        return if escape { vec![Message::Screen(ScreenMessage::Escape)] } else { Vec::new() };
    }
    let widget_has_keys = !super::focus::picture_has_keys(ctx, model);
    // A menu that is open takes Esc itself.
    let menu_open = egui::Popup::is_any_open(ctx);
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
        // Those with modifiers first: "M" would also take "Shift M".
        let with = bindings().iter().filter(|b| b.modifiers.any());
        for binding in with.chain(bindings().iter().filter(|b| !b.modifiers.any())) {
            let is_menus = menu_open && binding.key == Key::Escape;
            if is_menus || binding.widget_first && widget_has_keys {
                continue;
            }
            for _ in 0..input.count_and_consume_key(binding.modifiers, binding.key) {
                let message = (binding.message)(model).filter(|m| is_seen(model.page, m));
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
    use crate::app::model::Swing;
    use crate::domain::{SwingKind, SwingMarks};
    use crate::store::SwingId;

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
    fn one_key_goes_through_the_budgets_of_all_numbers() {
        use crate::app::update::tests::model;
        use crate::domain::{Contribution, Measured, Source, SwingResult};

        let number = Some(Measured::new(60.0, vec![Contribution::new(Source::Mark, 2.0)]));
        let mut m = model();
        m.swings[0].result = Some(std::sync::Arc::new(SwingResult {
            divot_start_offset: number.clone(),
            height_at_ball: number.clone(),
            arc_radius: number.clone(),
            arc_plane: number.clone(),
            predicted_contact: number.clone(),
            ball_position: number.clone(),
            reach_line: number,
            ..SwingResult::without_numbers(SwingKind::Strike)
        }));
        let mut seen = Vec::new();
        while let Some(Sheet::Budget(number)) = next_budget(&m) {
            seen.push(number);
            m.sheet = Some(Sheet::Budget(number));
        }
        let start = SwingNumber::Collected(crate::domain::Quantity::DivotStart);
        use SwingNumber as N;
        let told = [
            N::HeightAtBall,
            N::ArcRadius,
            N::ArcPlane,
            N::PredictedContact,
            N::FromLeadHeel,
            N::ReachLine,
            N::StartFromReachLine,
        ];
        assert_eq!(seen, [&[start][..], &told].concat());
    }

    #[test]
    fn nothing_is_changed_that_cannot_be_seen() {
        let accept = Message::Swing(SwingMessage::Accept);
        let leave = Message::Swing(SwingMessage::LeaveOut(true));
        let mark = Message::Mark(MarkMessage::RemoveMark);
        let notebook = Page::Notebook(Chapter::People);
        for (page, seen) in [
            (Page::Measure, [true, true, true]),
            (Page::Beside, [true, true, false]),
            (Page::Range, [false, true, false]),
            (notebook, [false, false, false]),
        ] {
            assert_eq!([&accept, &leave, &mark].map(|m| is_seen(page, m)), seen, "{page:?}");
        }
    }

    #[test]
    fn every_key_is_told() {
        for binding in bindings() {
            let act = binding.act;
            let listed = bindings().iter().filter(|b| b.act == act && !b.keys.is_empty());
            assert_eq!(listed.count(), 1, "{act:?} stands on the sheet once");
        }
        assert_eq!(shown(Act::Redo), "R, Ctrl Y or Ctrl Shift Z");
        assert_eq!(short(Act::Redo), "R");
        assert_eq!(short(Act::Undo), "U");
        assert_eq!(short(Act::BackFrame), ",");
        assert_eq!(hint("Whole", Act::Whole), "Whole (F)");
    }

    #[test]
    fn chapters_are_turned_and_answers_taken_back() {
        let mut model = Model { page: Page::Notebook(Chapter::Send), ..Model::default() };
        let turned = |m: &Model, by| match step_chapter(m, by) {
            Message::Notebook(NotebookMessage::Open(chapter)) => chapter,
            other => panic!("{other:?}"),
        };
        assert_eq!(turned(&model, 1), Chapter::Send, "the last one");
        assert_eq!(turned(&model, -1), Chapter::Tape);
        let swing = Swing {
            id: SwingId(1),
            recording: None,
            kind: SwingKind::Strike,
            club: None,
            aim: None,
            marks: SwingMarks::default(),
            found: None,
            result: None,
            confirmed: Vec::new(),
            left_out: false,
            invented: false,
        };
        (model.swings, model.current) = (vec![swing], Some(SwingId(1)));
        let said = |m: &Model| match say(m, GroundAnswer::None) {
            Some(Message::Mark(MarkMessage::SayGround(answer))) => answer,
            other => panic!("{other:?}"),
        };
        assert_eq!(said(&model), Some(GroundAnswer::None));
        model.current_swing_mut().expect("a swing").marks.ground = Some(GroundAnswer::None);
        assert_eq!(said(&model), None);
    }

    #[test]
    fn the_other_swing_is_moved_where_it_is_seen() {
        let of = |model: &Model, key| {
            let binding = bindings().iter().find(|b| b.key == key && b.modifiers.is_none());
            let message = (binding.expect("bound").message)(model);
            message.filter(|m| is_seen(model.page, m))
        };
        let model = Model { page: Page::Beside, ..Model::default() };
        let moved = of(&model, Key::Minus);
        assert!(matches!(moved, Some(Message::Beside(BesideMessage::Shift(-1)))));
        assert!(matches!(of(&model, Key::V), Some(Message::Beside(BesideMessage::Over(true)))));
        let model = Model { page: Page::Measure, ..Model::default() };
        assert!(of(&model, Key::V).is_none() && of(&model, Key::Plus).is_none());
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
