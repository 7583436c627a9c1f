//! The pictures around one strike by their colours, for balls that do not stand out by their
//! brightness.

use super::plane::{Area, HeldPlane, Plane, median};
use super::steady::Steadying;
use super::window::{Clock, Wanted, Window, in_one_light, laid};
use crate::domain::{ColourFrame, FrameIndex, PictureError, Pictures};

/// One window seen in two other ways.
pub(crate) struct Colours {
    /// How white each pixel is: the least of its red, green and blue. A ball in the shade is no
    /// brighter than the sunlit turf beside it, but as grey as ever, while turf has little blue.
    pub white: Window,
    /// How far each pixel's colour is from the ground's, about the foot of the swing alone: an
    /// orange, red or green ball.
    pub tint: Window,
}

/// Fewer than for brightness: colours cost more to read.
const PLATE_FRAMES: usize = 3;
/// The ground's own level where colours are told by their distance from it: that of ground by day,
/// so that a ball must stand out as clearly as by its brightness.
const GROUND_LEVEL: f32 = 75.0;
/// Differences of colour are smaller than those of brightness: a matte green ball on grass is some
/// 20 levels off, a red one 90 (rendered balls).
const TINT_GAIN: f32 = 2.5;

/// Reads `window` once more by its colours; `zone`: where the ball may lie.
pub(crate) fn read_colours(
    pictures: &mut dyn Pictures,
    steadying: &mut Steadying,
    window: &Window,
    zone: Area,
    (clock, time): (&Clock, f64),
    go_on: &mut dyn FnMut() -> bool,
) -> Result<Colours, PictureError> {
    let Wanted { before, after, .. } = Wanted::about(clock, time);
    let close = window.first..window.first + window.frames.len();
    let some = |chosen: Vec<usize>| {
        let every = chosen.len().div_ceil(PLATE_FRAMES).max(1);
        chosen.into_iter().step_by(every)
    };
    let (mut white, mut tint) = (Vec::new(), Vec::new());
    let mut ground = None;
    // In the order of time: going back would decode everything since a key frame again.
    let parts = [some(before).collect::<Vec<_>>(), close.collect(), some(after).collect()];
    for &frame in parts.iter().flatten() {
        if !go_on() {
            return Err(PictureError::Cancelled);
        }
        let colours = pictures.colour(FrameIndex(frame))?;
        let ground = *ground.get_or_insert_with(|| ground_tint(&colours, zone));
        let least = |rgb: [u8; 3]| rgb.into_iter().min().unwrap_or(0);
        let mut cuts = [
            (window.area, HeldPlane::cut_colours(&colours, window.area, least)),
            (zone, cut_tint(&colours, zone, ground)),
        ];
        if let Some(own) = &window.laid_on {
            let other = steadying.motion(pictures, FrameIndex(frame))?;
            for (area, held) in &mut cuts {
                *held = HeldPlane::of(&laid(held.plane(), *area, own, &other));
            }
        }
        let [(_, least), (_, far)] = cuts;
        white.push((frame, least));
        tint.push((frame, far));
    }
    let white = in_one_light(white, clock.frame_at(time));
    let counts = parts.map(|part| part.len());
    Ok(Colours {
        white: like(window, window.area, white, counts),
        tint: like(window, zone, tint, counts),
    })
}

/// The window made of other pictures: so many before, about and after the strike.
fn like(
    window: &Window,
    area: Area,
    pictures: Vec<(usize, HeldPlane)>,
    [before, close, _]: [usize; 3],
) -> Window {
    let mut before_and_close: Vec<HeldPlane> = pictures.into_iter().map(|p| p.1).collect();
    let late = before_and_close.split_off(before + close);
    let frames = before_and_close.split_off(before);
    // Without pictures from when the club was away, the first and last ones must do.
    let plate = |held: &[HeldPlane], fallback: Option<&HeldPlane>| -> Plane {
        let middle = HeldPlane::median_of(&held.iter().collect::<Vec<_>>());
        let nothing = || Plane { width: area.width, height: area.height, data: Vec::new() };
        middle.or(fallback.map(HeldPlane::plane)).unwrap_or_else(nothing)
    };
    Window {
        area,
        laid_on: window.laid_on,
        first: window.first,
        before: plate(&before_and_close, frames.first()),
        after: plate(&late, frames.last()),
        frames,
        times: window.times.clone(),
    }
}

/// A colour without its brightness: blue and red differences (ITU-T T.871).
fn tint([r, g, b]: [u8; 3]) -> [f32; 2] {
    let [r, g, b] = [r, g, b].map(f32::from);
    [-0.1687 * r - 0.3313 * g + 0.5 * b, 0.5 * r - 0.4187 * g - 0.0813 * b]
}

/// How far the colour of each pixel is from the ground's.
pub(crate) fn cut_tint(frame: &ColourFrame, area: Area, ground: [f32; 2]) -> HeldPlane {
    HeldPlane::cut_colours(frame, area, |rgb| tint_level(rgb, ground))
}

fn tint_level(rgb: [u8; 3], ground: [f32; 2]) -> u8 {
    let [blue, red] = tint(rgb);
    let off = (blue - ground[0]).hypot(red - ground[1]);
    // A float turned into a byte is held to what fits.
    (GROUND_LEVEL + TINT_GAIN * off) as u8
}

/// The usual colour of part of a picture.
pub(crate) fn ground_tint(frame: &ColourFrame, area: Area) -> [f32; 2] {
    let pixels = (area.top..area.top + area.height)
        .flat_map(|y| (area.left..area.left + area.width).map(move |x| (x, y)));
    let tints: Vec<[f32; 2]> = pixels.step_by(7).map(|(x, y)| tint(frame.rgb(x, y))).collect();
    [0, 1].map(|i| {
        let mut own: Vec<f64> = tints.iter().map(|t| f64::from(t[i])).collect();
        median(&mut own).unwrap_or(0.0) as f32
    })
}
