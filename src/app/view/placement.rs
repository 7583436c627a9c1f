//! How the picture lies on the screen: between its pixels and the screen's points.

use eframe::egui::{Pos2, Rect, pos2};

use super::View;
use crate::domain::ImagePoint;

/// How the picture lies on the screen.
#[derive(Clone, Copy, Debug)]
pub struct Placement {
    /// Where it is clipped.
    pub rect: Rect,
    /// The picture point in the middle of `rect`.
    pub centre: ImagePoint,
    /// Screen points a picture pixel.
    pub scale: f64,
    /// The scale at which the whole picture fits.
    pub fit: f64,
}

impl Placement {
    /// Of the open recording in `rect`.
    pub fn new(view: &View, rect: Rect) -> Option<Self> {
        let size = view.model.open.as_ref()?.size;
        if size.width == 0 || size.height == 0 {
            return None;
        }
        let (width, height) = (size.width as f64, size.height as f64);
        let fit = (f64::from(rect.width()) / width).min(f64::from(rect.height()) / height);
        let viewport = view.model.viewport;
        Some(match viewport.scale {
            Some(scale) => Self { rect, centre: viewport.centre, scale, fit },
            None => {
                let centre = ImagePoint::new((width - 1.0) / 2.0, (height - 1.0) / 2.0);
                Self { rect, centre, scale: fit, fit }
            }
        })
    }

    /// How another picture lies on the screen so that it is seen as large as this one, and
    /// the second of `at`, a point of it, where the first, a point of this one, lies.
    /// `sizes`: the widths of the two.
    pub fn of_another(self, rect: Rect, sizes: [usize; 2], at: [ImagePoint; 2]) -> Self {
        let ratio = sizes[1] as f64 / sizes[0].max(1) as f64;
        let [here, there] = at;
        let centre = ImagePoint::new(
            there.x + (self.centre.x - here.x) * ratio,
            there.y + (self.centre.y - here.y) * ratio,
        );
        Self { rect, centre, scale: self.scale / ratio, fit: self.fit / ratio }
    }

    /// From picture to screen.
    pub fn to_screen(self, point: ImagePoint) -> Pos2 {
        let middle = self.rect.center();
        pos2(
            middle.x + ((point.x - self.centre.x) * self.scale) as f32,
            middle.y + ((point.y - self.centre.y) * self.scale) as f32,
        )
    }

    /// From screen to picture.
    pub fn to_image(self, point: Pos2) -> ImagePoint {
        let by = point - self.rect.center();
        self.centre.moved(f64::from(by.x) / self.scale, f64::from(by.y) / self.scale)
    }

    /// Where a picture of this size lies; pixel centres are whole numbers.
    pub fn picture_rect(self, width: usize, height: usize) -> Rect {
        Rect::from_min_max(
            self.to_screen(ImagePoint::new(-0.5, -0.5)),
            self.to_screen(ImagePoint::new(width as f64 - 0.5, height as f64 - 0.5)),
        )
    }
}
