//! What the picture can show, as buttons at its foot.

use eframe::egui::{self, Align, Frame, Layout, Margin, Rect, Ui, UiBuilder, pos2, vec2};

use super::View;
use crate::app::keys::{self, Act};
use crate::app::message::{Message, PictureMessage, ScreenMessage};
use crate::app::model::{Look, Page};
use crate::app::theme::Theme;

/// Height of the row, in points.
const HEIGHT: f32 = 44.0;

/// Shows the buttons at the foot of `rect`.
pub fn tools_ui(view: &mut View, ui: &mut Ui, rect: Rect) {
    if view.model.open.as_ref().is_none_or(|open| open.shown.is_none()) {
        return;
    }
    let foot = Rect::from_min_max(pos2(rect.left(), rect.bottom() - HEIGHT), rect.max);
    let layout = Layout::left_to_right(Align::Center);
    let mut inner =
        ui.new_child(UiBuilder::new().max_rect(foot.shrink2(vec2(10.0, 4.0))).layout(layout));
    let fill = view.colours().panel;
    let frame = Frame::new().fill(fill).corner_radius(8).inner_margin(Margin::symmetric(6, 3));
    frame.show(&mut inner, |ui| buttons_ui(view, ui));
}

fn buttons_ui(view: &mut View, ui: &mut Ui) {
    let look = view.model.look;
    // White on white, words alone would not look like buttons.
    let framed = view.model.settings.theme == Theme::Sun;
    let toggles = [
        (
            Look::Blink,
            "Blink",
            "The ground before and after by turns, steadied on each other",
            keys::BLINK.1,
        ),
        (Look::Changes, "Changes", "What has changed on the ground", keys::CHANGES.1),
    ];
    for (one, name, hint, held) in toggles {
        let hint = format!("{hint} ({})", held.keys);
        let button = egui::Button::selectable(look == one, name).frame_when_inactive(framed);
        if ui.add(button).on_hover_text(hint).clicked() {
            view.send(PictureMessage::Look(one));
        }
    }
    let steps: [(&str, &str, Act, Message); 3] = [
        (
            "Close up",
            "Close to the ball and its marks",
            Act::CloseUp,
            PictureMessage::ZoomToGround.into(),
        ),
        ("Whole", "The whole picture", Act::Whole, PictureMessage::Fit.into()),
        (
            "Side by side",
            "Two swings beside each other",
            Act::Beside,
            ScreenMessage::Show(Page::Beside).into(),
        ),
    ];
    for (name, hint, act, message) in steps {
        let button = egui::Button::new(name).frame_when_inactive(framed);
        if ui.add(button).on_hover_text(keys::hint(hint, act)).clicked() {
            view.send(message);
        }
    }
}
