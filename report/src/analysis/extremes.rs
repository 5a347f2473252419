//! The lowest and the highest of many readings.

/// Readings compared side by side, which a processor does in one instruction.
const LANES: usize = 16;

/// Lowest and highest of the readings, `NaN` passed over; `(∞, −∞)` of none.
pub(crate) fn extremes(values: &[f32]) -> (f32, f32) {
    let (whole, rest) = values.as_chunks::<LANES>();
    let mut low = [f32::INFINITY; LANES];
    let mut high = [f32::NEG_INFINITY; LANES];
    for lanes in whole {
        for ((low, high), &v) in low.iter_mut().zip(&mut high).zip(lanes) {
            *low = if v < *low { v } else { *low };
            *high = if v > *high { v } else { *high };
        }
    }
    let lowest = low
        .iter()
        .chain(rest)
        .copied()
        .fold(f32::INFINITY, f32::min);
    let both = high.iter().chain(rest).copied();
    (lowest, both.fold(f32::NEG_INFINITY, f32::max))
}

#[cfg(test)]
mod tests {
    use super::extremes;

    #[test]
    fn every_place_counts_and_silence_does_not() {
        for length in 1..70 {
            for at in 0..length {
                let mut values = vec![f32::NAN; length];
                assert_eq!(extremes(&values), (f32::INFINITY, f32::NEG_INFINITY));
                values[at] = 3.0;
                assert_eq!(extremes(&values), (3.0, 3.0));
                values.fill(2.0);
                values[at] = 3.0;
                values[(at + 1) % length] = 1.0;
                assert_eq!(extremes(&values).0, 1.0);
                assert!(length == 1 || extremes(&values).1 == 3.0);
            }
        }
    }
}
