//! The club head's path near the ground, as fitted, in the picture.

use eframe::egui::{Color32, Painter, Pos2};

use super::View;
use super::placement::Placement;
use super::shapes::{MarkLook, double_edge};
use crate::domain::{Mark, WorldPoint};

/// Draws the path, where an arc was fitted.
pub fn draw(view: &View, painter: &Painter, placement: Placement) {
    let (Some(ground), Some(open)) = (view.model.ground(), &view.model.open) else { return };
    let project = |point: WorldPoint| -> Option<Pos2> {
        let image = ground.view.image_from_world(point)?;
        Some(placement.to_screen(open.place_in_shown(Mark::steadied(image))))
    };
    let line: Vec<Pos2> = ground.path.iter().filter_map(|point| project(*point)).collect();
    if line.len() < 2 {
        return;
    }
    let look = MarkLook {
        ink: Color32::WHITE,
        edge: Color32::from_black_alpha(150),
        size: 6.0,
        width: 1.4 * view.colours().stroke,
        dashed: true,
        toward_target: 1.0,
    };
    double_edge(painter, line, &look);
}
