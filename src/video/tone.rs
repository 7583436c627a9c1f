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

/// For each value of a coded channel the value to show.
///
/// Each channel is taken through the coding's own curve to light, with diffuse white a little
/// below the screen's white and what is brighter rolled off above it. The wider primaries are
/// left as they are: colours come out a little pale, shapes and edges right.
pub(super) fn curve(transfer: Transfer) -> Option<[u8; 256]> {
    let to_light: fn(f64) -> f64 = match transfer {
        Transfer::Ordinary => return None,
        Transfer::Pq => pq_to_light,
        Transfer::Hlg => hlg_to_light,
    };
    let mut table = [0; 256];
    for (value, shown) in table.iter_mut().enumerate() {
        let light = roll_off(to_light(value as f64 / 255.0) / WHITE);
        // Display gamma 2.4 (ITU-R BT.1886).
        *shown = (light.powf(1.0 / 2.4) * 255.0).round() as u8;
    }
    Some(table)
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

/// cd/m² of gray on a 1000 cd/m² screen for an HLG value 0..1 (ITU-R BT.2100 table 5).
fn hlg_to_light(value: f64) -> f64 {
    const A: f64 = 0.178_832_77;
    const B: f64 = 1.0 - 4.0 * A;
    // 0.5 - A ln(4 A)
    const C: f64 = 0.559_910_73;
    let scene =
        if value <= 0.5 { value * value / 3.0 } else { (((value - C) / A).exp() + B) / 12.0 };
    1000.0 * scene.powf(1.2)
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
        assert!((hlg_to_light(0.75) - 203.0).abs() < 1.0, "{}", hlg_to_light(0.75));
        assert!((pq_to_light(0.58) - 203.0).abs() < 3.0, "{}", pq_to_light(0.58));
        // ITU-R BT.2100: full PQ is 10 000 cd/m², full HLG the screen's 1000.
        assert!((pq_to_light(1.0) - 10_000.0).abs() < 1e-6);
        assert!((hlg_to_light(1.0) - 1000.0).abs() < 0.1);
    }

    #[test]
    fn shown_values_rise_and_stay_in_range() {
        for transfer in [Transfer::Pq, Transfer::Hlg] {
            let table = curve(transfer).unwrap();
            assert!(table.windows(2).all(|pair| pair[0] <= pair[1]));
            assert_eq!(table[0], 0);
            assert!(table[255] > 230);
        }
        assert!(curve(Transfer::Ordinary).is_none());
    }
}
