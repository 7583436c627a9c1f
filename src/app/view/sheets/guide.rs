//! The guided first measurement: five short pages, put away and called back at will.

use eframe::egui::{self, RichText, Ui};

use super::guide_pictures::picture_ui;
use crate::app::keys::{self, Act, GUIDE};
use crate::app::message::ScreenMessage;
use crate::app::model::GUIDE_PAGES;
use crate::app::view::{View, strong};
use crate::domain::Golfer;

/// Said only while it is so.
const INVENTED: &str = "The swings on the screen belong to an invented golfer. Look around: nothing here can be broken, and undo takes back every step.";

/// The longest page, in lines of text with what lies between its paragraphs.
const MOST_LINES: f32 = 9.5;

/// A page: its title and its paragraphs.
const PAGES: [(&str, &[&str]); GUIDE_PAGES] = [
    (
        "Where did the club meet the turf?",
        &[
            "A recording from the front shows it: the ground before the swing, the ground after, and something of known size beside the ball. From these you get millimetres, each with a ± that holds 95 times in a hundred.",
            INVENTED,
            "Everything stays on this machine.",
        ],
    ),
    (
        "Set up the camera",
        &[
            "Phone on a tripod, square to the target line, about knee to waist high, ball and both feet in the lower half of the picture. Lock focus and exposure.",
            "Lay a white A4 sheet flat on the ground near the ball, clear of the club: it gives the scale and how the camera stands. A stick along the target line gives the direction.",
            "Keep people and camera out of the club's reach, {away}, and off the target line. Look before each swing. The range's rules and local codes come first.",
        ],
    ),
    (
        "How many frames a second?",
        &[
            "30: where the mark in the ground starts and ends. Not when exactly the ball was struck, and no arc.",
            "60: the same, and between which two frames the ball was struck. Still no arc: the head crosses the picture in two or three.",
            "120: an arc in good light: the low point with a wide ±, the attack angle roughly.",
            "240: the arc at its best. What no camera from the front tells: the face, the path to the side, the ball's spin.",
        ],
    ),
    (
        "From the phone to here",
        &[
            "By cable: the phone shows up like a camera or a drive; the recordings lie in its folder DCIM. Or share the file without a cable as it is, in its original size.",
            "Not through a messenger and not as an edited clip: both cut frame rate and size, and the ± grows. A slow-motion recording is best copied as it was recorded.",
            "Then drop the file on this window. Swings appear as they are found, each with how sure the program is.",
        ],
    ),
    (
        "Confirm or correct",
        &[
            "Only the doubtful ones need a look: Enter accepts and goes on. To correct, click a mark and move it with the arrow keys, a tenth of a pixel at a time. Press Blink, or hold B, and the ground blinks between before and after.",
            "Stop on pain in wrist, elbow or back, and go easy on repeated hits into a hard mat. A medical or coaching professional decides what a body can do; this only measures.",
        ],
    ),
];

/// Shows one page of the guide.
pub fn guide_ui(view: &mut View, ui: &mut Ui, step: usize) {
    ui.set_width(500.0);
    let step = step.min(PAGES.len() - 1);
    let (title, paragraphs) = PAGES[step];
    ui.weak(format!("{} of {}", step + 1, PAGES.len()));
    ui.add_space(4.0);
    ui.label(RichText::new(title).text_style(strong()).size(20.0));
    ui.add_space(8.0);
    let people = &view.model.people;
    let invented = |(id, golfer): &(_, Golfer)| Some(*id) == people.golfer && golfer.invented;
    let is_invented = people.golfers.iter().any(invented);
    // The buttons stay where they are from page to page.
    picture_ui(view, ui, step);
    ui.add_space(8.0);
    let lines = ui.text_style_height(&egui::TextStyle::Body) * MOST_LINES;
    ui.vertical(|ui| {
        ui.set_min_height(lines);
        for paragraph in paragraphs.iter().filter(|text| is_invented || **text != INVENTED) {
            // How far is told in the person's unit.
            let told = paragraph.replace("{away}", view.model.settings.unit.away());
            ui.add(egui::Label::new(told).wrap());
            ui.add_space(6.0);
        }
    });
    ui.add_space(10.0);
    ui.horizontal(|ui| {
        if ui
            .button("Put away")
            .on_hover_text(keys::hint("Comes back under Help", Act::Guide))
            .clicked()
        {
            view.send(ScreenMessage::DismissGuide);
        }
        ui.with_layout(egui::Layout::right_to_left(egui::Align::Center), |ui| {
            let last = step + 1 == PAGES.len();
            let colours = *view.colours();
            let text = if last { "Begin" } else { "Go on" };
            let button = egui::Button::new(
                RichText::new(text).text_style(strong()).color(colours.on_accent),
            )
            .fill(colours.accent);
            if ui.add(button).on_hover_text(GUIDE[0]).clicked() {
                view.send(ScreenMessage::TurnPage(1));
            }
            if step > 0 && ui.button("Back").on_hover_text(GUIDE[1]).clicked() {
                view.send(ScreenMessage::TurnPage(-1));
            }
        });
    });
}
