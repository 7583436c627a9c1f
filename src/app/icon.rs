//! The window's icon, drawn here: a ball on the ground and the cut ahead of it.

use eframe::egui::IconData;

const SIDE: usize = 128;

/// The icon as pixels.
pub fn icon() -> IconData {
    let mut rgba = Vec::with_capacity(4 * SIDE * SIDE);
    for y in 0..SIDE {
        for x in 0..SIDE {
            rgba.extend(colour_at(x as f32 + 0.5, y as f32 + 0.5));
        }
    }
    IconData { rgba, width: SIDE as u32, height: SIDE as u32 }
}

/// Colour by the shapes' signed distances, each edge one pixel soft.
fn colour_at(x: f32, y: f32) -> [u8; 4] {
    let plate = rounded_box(x - 64.0, y - 64.0, 58.0, 58.0, 26.0);
    let ground = y - 76.0;
    let ball = (x - 42.0).hypot(y - 58.0) - 18.0;
    // The cut: below the ground line, inside a wide circle whose lowest point lies ahead.
    let cut = ((x - 84.0).hypot(y - 40.0) - 50.0).max(-ground);
    let mut colour = [36.0, 82.0, 184.0];
    let turf = soft(ground).min(soft(cut));
    blend(&mut colour, [236.0, 236.0, 232.0], turf);
    blend(&mut colour, [255.0; 3], soft(-ball));
    let alpha = soft(-plate) * 255.0;
    [colour[0] as u8, colour[1] as u8, colour[2] as u8, alpha as u8]
}

fn soft(distance: f32) -> f32 {
    (distance + 0.5).clamp(0.0, 1.0)
}

fn blend(under: &mut [f32; 3], over: [f32; 3], part: f32) {
    for (u, o) in under.iter_mut().zip(over) {
        *u += (o - *u) * part;
    }
}

fn rounded_box(x: f32, y: f32, half_width: f32, half_height: f32, radius: f32) -> f32 {
    let dx = x.abs() - half_width + radius;
    let dy = y.abs() - half_height + radius;
    dx.max(0.0).hypot(dy.max(0.0)) + dx.max(dy).min(0.0) - radius
}
