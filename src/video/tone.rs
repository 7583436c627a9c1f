//! High-dynamic-range pictures on an ordinary screen.

/// How the values of a picture stand for light.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, serde::Serialize, serde::Deserialize)]
pub(super) enum Transfer {
    /// For ordinary screens: shown as it is.
    #[default]
    Ordinary,
    /// Perceptual quantiser (SMPTE ST 2084; ITU-R BT.2100).
    Pq,
    /// Hybrid log-gamma (ITU-R BT.2100).
    Hlg,
}

/// Diffuse white of HDR pictures, cd/m² (ITU-R BT.2408, 2.2).
const WHITE: f64 = 203.0;

/// From BT.2020 to BT.709 primaries in light (the inverse of the matrix of ITU-R BT.2087).
const TO_BT709: [[f32; 3]; 3] =
    [[1.6605, -0.5876, -0.0728], [-0.1246, 1.1329, -0.0083], [-0.0182, -0.1006, 1.1187]];

/// The brightest light that is told apart from what is brighter, in diffuse whites: PQ's 10 000.
const BRIGHTEST: f32 = 10_000.0 / 203.0;

/// Steps of the table from light to shown values; they are even in the root of light, since the
/// eye tells dark values apart by their ratio.
const STEPS: usize = 4096;

/// Shows pictures of a wider range of light or colour on an ordinary screen.
///
/// Each channel is taken through the coding's own curve to light and from BT.2020 to BT.709
/// primaries; diffuse white comes a little below the screen's white, and what is brighter is
/// rolled off above it. Colours that the screen has not are cut to its nearest values.
pub(super) struct Toner {
    /// Light of each coded value, in diffuse whites; with `gain`: before the camera's rendering.
    light: [f32; 256],
    /// HLG's rendering: what light is multiplied by, by the root of its luminance.
    gain: Option<Box<[f32; STEPS]>>,
    wide: bool,
    /// Shown values by the root of light.
    shown: Box<[u8; STEPS]>,
    brightest: f32,
}

impl Toner {
    /// For pictures coded with `transfer` and, if `wide`, in BT.2020 primaries; `None`: they are
    /// shown as they are.
    pub fn new(transfer: Transfer, wide: bool) -> Option<Self> {
        let to_light: fn(f64) -> f64 = match transfer {
            Transfer::Ordinary if !wide => return None,
            // Display gamma 2.4 (ITU-R BT.1886).
            Transfer::Ordinary => |value| value.powf(2.4) * WHITE,
            Transfer::Pq => pq_to_light,
            Transfer::Hlg => |value| hlg_to_scene(value) * WHITE,
        };
        // ITU-R BT.2100 table 5: a screen of 1000 cd/m² has gamma 1.2.
        let gain = (transfer == Transfer::Hlg).then(|| {
            let root = |step: usize| step as f64 / (STEPS - 1) as f64;
            let gain = |step| (1000.0 / WHITE * root(step).powf(2.0 * 0.2)) as f32;
            Box::new(std::array::from_fn(gain))
        });
        let is_hdr = transfer != Transfer::Ordinary;
        let brightest = if is_hdr { BRIGHTEST } else { 1.0 };
        let mut shown = Box::new([0; STEPS]);
        for (step, shown) in shown.iter_mut().enumerate() {
            let root = step as f64 / (STEPS - 1) as f64;
            let light = root * root * f64::from(brightest);
            let light = if is_hdr { roll_off(light) } else { light };
            *shown = (light.powf(1.0 / 2.4) * 255.0).round() as u8;
        }
        let light = std::array::from_fn(|v| (to_light(v as f64 / 255.0) / WHITE) as f32);
        Some(Self { light, gain, wide, shown, brightest })
    }

    /// Tones RGBA pixels, on two threads where they are many.
    pub fn apply(&self, data: &mut [u8]) {
        const MANY: usize = 1 << 20;
        if data.len() < MANY {
            return self.apply_here(data);
        }
        let (one, other) = data.split_at_mut(data.len() / 8 * 4);
        std::thread::scope(|scope| {
            scope.spawn(|| self.apply_here(one));
            self.apply_here(other);
        });
    }

    fn apply_here(&self, data: &mut [u8]) {
        for pixel in data.as_chunks_mut::<4>().0 {
            let mut light = [0, 1, 2].map(|c| self.light[usize::from(pixel[c])]);
            if let Some(gain) = &self.gain {
                // Luminance of BT.2020 primaries (ITU-R BT.2100 table 5).
                let luminance = 0.2627 * light[0] + 0.678 * light[1] + 0.0593 * light[2];
                let gain = gain[step_of(luminance)];
                light = light.map(|value| value * gain);
            }
            let mixed = if self.wide {
                TO_BT709.map(|row| row[0] * light[0] + row[1] * light[1] + row[2] * light[2])
            } else {
                light
            };
            for (value, light) in pixel.iter_mut().zip(mixed) {
                *value = self.shown[step_of(light / self.brightest)];
            }
        }
    }
}

/// The step of a table by the root of `part`, 0 to 1.
fn step_of(part: f32) -> usize {
    (part.clamp(0.0, 1.0).sqrt() * (STEPS - 1) as f32 + 0.5) as usize
}

/// cd/m² for a PQ value 0..1 (ITU-R BT.2100 table 4).
fn pq_to_light(value: f64) -> f64 {
    const M1: f64 = 2610.0 / 16384.0;
    const M2: f64 = 2523.0 / 4096.0 * 128.0;
    const C1: f64 = 3424.0 / 4096.0;
    const C2: f64 = 2413.0 / 4096.0 * 32.0;
    const C3: f64 = 2392.0 / 4096.0 * 32.0;
    let root = value.powf(1.0 / M2);
    10_000.0 * ((root - C1).max(0.0) / (C2 - C3 * root)).powf(1.0 / M1)
}

/// Light before the camera's rendering, 0..1, for an HLG value 0..1 (ITU-R BT.2100 table 5).
fn hlg_to_scene(value: f64) -> f64 {
    const A: f64 = 0.178_832_77;
    const B: f64 = 1.0 - 4.0 * A;
    // 0.5 - A ln(4 A)
    const C: f64 = 0.559_910_73;
    if value <= 0.5 { value * value / 3.0 } else { (((value - C) / A).exp() + B) / 12.0 }
}

/// Diffuse white (1.0) goes to 0.8 of the screen's white; above, light is compressed.
fn roll_off(light: f64) -> f64 {
    const KNEE: f64 = 0.8;
    let light = light * KNEE;
    if light <= KNEE {
        return light;
    }
    let above = (light - KNEE) / (1.0 - KNEE);
    KNEE + (1.0 - KNEE) * above / (1.0 + above)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn curves_meet_the_values_of_the_recommendations() {
        // ITU-R BT.2408 table 1: diffuse white (203 cd/m²) is 75 % in HLG and 58 % in PQ.
        let hlg_to_light = |value| 1000.0 * hlg_to_scene(value).powf(1.2);
        assert!((hlg_to_light(0.75) - 203.0f64).abs() < 1.0, "{}", hlg_to_light(0.75));
        assert!((pq_to_light(0.58) - 203.0).abs() < 3.0, "{}", pq_to_light(0.58));
        // ITU-R BT.2100: full PQ is 10 000 cd/m², full HLG the screen's 1000.
        assert!((pq_to_light(1.0) - 10_000.0).abs() < 1e-6);
        assert!((hlg_to_light(1.0) - 1000.0f64).abs() < 0.1);
    }

    fn toned(toner: &Toner, colour: [u8; 3]) -> [u8; 3] {
        let mut pixel = [colour[0], colour[1], colour[2], 255];
        toner.apply(&mut pixel);
        assert_eq!(pixel[3], 255);
        [pixel[0], pixel[1], pixel[2]]
    }

    #[test]
    fn grays_stay_gray_rise_and_stay_in_range() {
        for transfer in [Transfer::Pq, Transfer::Hlg, Transfer::Ordinary] {
            let toner = Toner::new(transfer, true).unwrap();
            let grays: Vec<[u8; 3]> = (0..=255).map(|v| toned(&toner, [v; 3])).collect();
            for gray in &grays {
                assert!(gray.iter().max().unwrap() - gray.iter().min().unwrap() <= 1, "{gray:?}");
            }
            assert!(grays.windows(2).all(|pair| pair[0][1] <= pair[1][1]));
            assert!(grays[0][1] == 0 && grays[255][1] > 230);
        }
        assert!(Toner::new(Transfer::Ordinary, false).is_none());
        let same = Toner::new(Transfer::Ordinary, true).unwrap();
        assert!((0..=255u8).all(|v| toned(&same, [v; 3])[1].abs_diff(v) <= 1));
    }

    #[test]
    fn colours_of_ordinary_screens_come_back_from_wider_primaries() {
        // ITU-R BT.2087: BT.709 light in BT.2020 primaries.
        const TO_BT2020: [[f64; 3]; 3] =
            [[0.6274, 0.3293, 0.0433], [0.0691, 0.9195, 0.0114], [0.0164, 0.0880, 0.8956]];
        // The PQ value of a light (ITU-R BT.2100 table 4), by bisection of its opposite.
        let pq = |light: f64| {
            let (mut low, mut high) = (0.0, 1.0);
            for _ in 0..40 {
                let middle = (low + high) / 2.0;
                if pq_to_light(middle) < light { low = middle } else { high = middle }
            }
            low
        };
        for colour in [[0.8, 0.1, 0.05], [0.1, 0.6, 0.2], [0.05, 0.1, 0.7], [0.4, 0.4, 0.4]] {
            let wide = TO_BT2020.map(|row| (0..3).map(|c| row[c] * colour[c]).sum::<f64>());
            let coded = wide.map(|light| (pq(light * WHITE) * 255.0).round() as u8);
            let shown = toned(&Toner::new(Transfer::Pq, true).unwrap(), coded);
            // Below the knee light is scaled by 0.8.
            let expected = colour.map(|light| (light * 0.8).powf(1.0 / 2.4) * 255.0);
            for (shown, expected) in shown.iter().zip(expected) {
                // 8 bits of PQ are coarse.
                assert!((f64::from(*shown) - expected).abs() < 9.0, "{shown} {expected}");
            }
        }
    }

    #[test]
    fn threads_and_one_thread_agree() {
        let toner = Toner::new(Transfer::Hlg, true).unwrap();
        let mut many: Vec<u8> =
            (0..1_200_004u32).map(|n| (n.wrapping_mul(7919) >> 5) as u8).collect();
        let mut one = many.clone();
        toner.apply(&mut many);
        toner.apply_here(&mut one);
        assert!(many == one);
    }
}
