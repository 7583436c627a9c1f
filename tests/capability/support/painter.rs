//! Paints what egui has laid out, on the CPU and the same everywhere, so that a screen can be
//! compared with a stored picture without a graphics card.

use std::collections::HashMap;
use std::sync::{Arc, Mutex};

use eframe::egui::epaint::{ImageData, Mesh, Primitive, Vertex};
use eframe::egui::{self, Color32, ColorImage, TextureId, TexturesDelta};
use egui_kittest::TestRenderer;

/// Textures as egui sends them.
#[derive(Clone, Default)]
pub struct Painter(Arc<Mutex<Textures>>);

#[derive(Default)]
struct Textures {
    held: HashMap<TextureId, ColorImage>,
    /// Let go after the pass in which they were last used.
    let_go: Vec<TextureId>,
}

impl TestRenderer for Painter {
    fn handle_delta(&mut self, delta: &mut TexturesDelta) {
        let mut textures = self.0.lock().unwrap();
        for id in std::mem::take(&mut textures.let_go) {
            textures.held.remove(&id);
        }
        for (id, change) in
            delta.set.drain().flat_map(|(id, all)| all.into_iter().map(move |c| (id, c)))
        {
            let ImageData::Color(image) = &change.image;
            match change.pos {
                None => {
                    textures.held.insert(id, (**image).clone());
                }
                Some([left, top]) => {
                    let whole = textures.held.get_mut(&id).expect("a part follows its whole");
                    for (row, line) in image.pixels.chunks(image.size[0]).enumerate() {
                        let at = (top + row) * whole.size[0] + left;
                        whole.pixels[at..at + line.len()].copy_from_slice(line);
                    }
                }
            }
        }
        textures.let_go.extend(delta.free.drain());
    }
}

impl Painter {
    /// The picture of one pass, one pixel a point.
    pub fn paint(&self, ctx: &egui::Context, output: &egui::FullOutput) -> ColorImage {
        let size = ctx.content_rect().size();
        let mut canvas =
            ColorImage::filled([size.x as usize, size.y as usize], Color32::from_gray(255));
        let textures = self.0.lock().unwrap();
        for clipped in ctx.tessellate(output.shapes.clone(), 1.0) {
            let Primitive::Mesh(mesh) = clipped.primitive else { continue };
            let Some(texture) = textures.held.get(&mesh.texture_id) else { continue };
            paint_mesh(&mut canvas, &mesh, texture, clipped.clip_rect);
        }
        canvas
    }
}

fn paint_mesh(canvas: &mut ColorImage, mesh: &Mesh, texture: &ColorImage, clip: egui::Rect) {
    for corners in mesh.indices.chunks_exact(3) {
        let corners = [corners[0], corners[1], corners[2]].map(|i| mesh.vertices[i as usize]);
        paint_triangle(canvas, &corners, texture, clip);
    }
}

fn paint_triangle(
    canvas: &mut ColorImage,
    corners: &[Vertex; 3],
    texture: &ColorImage,
    clip: egui::Rect,
) {
    let [a, b, c] = corners.map(|v| [f64::from(v.pos.x), f64::from(v.pos.y)]);
    let area = cross(a, b, c);
    if area == 0.0 {
        return;
    }
    let xs = [a[0], b[0], c[0]];
    let ys = [a[1], b[1], c[1]];
    let least = |v: [f64; 3]| v.into_iter().fold(f64::INFINITY, f64::min);
    let most = |v: [f64; 3]| v.into_iter().fold(f64::NEG_INFINITY, f64::max);
    let range = |low: f64, high: f64, clip_low: f32, clip_high: f32, n: usize| {
        let low = low.max(f64::from(clip_low)).max(0.0);
        let high = high.min(f64::from(clip_high)).min(n as f64);
        (low - 0.5).ceil().max(0.0) as usize..(high - 0.5).ceil().max(0.0) as usize
    };
    for y in range(least(ys), most(ys), clip.min.y, clip.max.y, canvas.size[1]) {
        for x in range(least(xs), most(xs), clip.min.x, clip.max.x, canvas.size[0]) {
            let at = [x as f64 + 0.5, y as f64 + 0.5];
            let parts = [cross(b, c, at), cross(c, a, at), cross(a, b, at)].map(|w| w / area);
            if parts.iter().all(|part| inside(*part)) {
                let ink = shade(corners, parts, texture);
                let pixel = &mut canvas.pixels[y * canvas.size[0] + x];
                *pixel = over(*pixel, ink);
            }
        }
    }
}

fn cross(a: [f64; 2], b: [f64; 2], p: [f64; 2]) -> f64 {
    (b[0] - a[0]) * (p[1] - a[1]) - (b[1] - a[1]) * (p[0] - a[0])
}

/// A point on an edge belongs to one of the two triangles only, nearly always.
fn inside(part: f64) -> bool {
    part > 1e-12
}

/// Colour of the vertices times that of the texture, both with alpha multiplied in.
fn shade(corners: &[Vertex; 3], parts: [f64; 3], texture: &ColorImage) -> [f64; 4] {
    let mix = |of: fn(&Vertex) -> f64| -> f64 {
        corners.iter().zip(parts).map(|(vertex, part)| of(vertex) * part).sum()
    };
    let uv = [mix(|v| f64::from(v.uv.x)), mix(|v| f64::from(v.uv.y))];
    let texel = sample(texture, uv);
    let ink = [
        mix(|v| f64::from(v.color.r())),
        mix(|v| f64::from(v.color.g())),
        mix(|v| f64::from(v.color.b())),
        mix(|v| f64::from(v.color.a())),
    ];
    std::array::from_fn(|i| ink[i] * texel[i] / 255.0)
}

/// The texture at `uv`, linear between the four nearest pixels.
fn sample(texture: &ColorImage, [u, v]: [f64; 2]) -> [f64; 4] {
    let [width, height] = texture.size;
    let (x, y) = (u * width as f64 - 0.5, v * height as f64 - 0.5);
    let at = |x: f64, y: f64| {
        let within = |v: f64, n: usize| v.clamp(0.0, n as f64 - 1.0) as usize;
        texture.pixels[within(y, height) * width + within(x, width)].to_array().map(f64::from)
    };
    let (left, top) = (x.floor(), y.floor());
    let (fx, fy) = (x - left, y - top);
    let corners =
        [at(left, top), at(left + 1.0, top), at(left, top + 1.0), at(left + 1.0, top + 1.0)];
    std::array::from_fn(|i| {
        let above = corners[0][i] * (1.0 - fx) + corners[1][i] * fx;
        let below = corners[2][i] * (1.0 - fx) + corners[3][i] * fx;
        above * (1.0 - fy) + below * fy
    })
}

fn over(under: Color32, ink: [f64; 4]) -> Color32 {
    let left = 1.0 - ink[3] / 255.0;
    let mix = |under: u8, ink: f64| (f64::from(under) * left + ink).round().clamp(0.0, 255.0) as u8;
    Color32::from_rgb(mix(under.r(), ink[0]), mix(under.g(), ink[1]), mix(under.b(), ink[2]))
}
