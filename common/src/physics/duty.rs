//! Duty and leakage from run times; bleed-down of a receiver.

/// Share of time under load: `T/(T + t)`.
///
/// For a compressor this is its duty. When nothing but leaks draws air, it is
/// also the leakage as a share of the compressor's capacity.
///
/// **Units**: both times in one unit; a fraction out. **Domain**: times not
/// negative, not both zero (NaN then). **Source**: cyclic duration factor of
/// IEC 60034-1 S3; leakage percentage of the US DOE compressed air sourcebook.
///
/// ```
/// use seep_common::physics::duty::duty_factor;
/// // S3 25 %: 2.5 min on, 7.5 min off
/// assert_eq!(duty_factor(2.5, 7.5), 0.25);
/// ```
#[must_use]
pub fn duty_factor(on: f64, off: f64) -> f64 {
    on / (on + off)
}

/// Rest a rated duty demands after a run: `t = T·(1 - d)/d`.
///
/// **Units**: rest in the unit of the run. **Domain**: `0 < duty <= 1`.
/// **Source**: IEC 60034-1 S3, solved for the rest.
///
/// ```
/// use seep_common::physics::duty::rest_needed;
/// assert_eq!(rest_needed(10.0, 0.25), 30.0);
/// ```
#[must_use]
pub fn rest_needed(on: f64, duty: f64) -> f64 {
    on * (1.0 - duty) / duty
}

/// Usable free air of a receiver between two pressures:
/// `V·(p1 - p2)/p_ref`, isothermal.
///
/// **Units**: volume in any unit; pressures in one unit, gauge or absolute
/// alike; free air out in the unit of the volume, at the reference pressure
/// and the temperature of the receiver. **Source**: ideal gas law.
///
/// ```
/// use seep_common::physics::duty::free_air;
/// assert_eq!(free_air(10.0, 900.0, 700.0, 100.0), 20.0);
/// ```
#[must_use]
pub fn free_air(volume: f64, from_pressure: f64, to_pressure: f64, reference: f64) -> f64 {
    volume * (from_pressure - to_pressure) / reference
}

#[cfg(test)]
mod tests {
    use super::*;

    fn close(got: f64, want: f64, absolute: f64) {
        assert!((got - want).abs() <= absolute, "got {got}, want {want}");
    }

    /// US DOE / Compressed Air Challenge leakage formula 100·T/(T+t): 8 min on
    /// and 48 off is published as 14.2 % and 127.8 cfm of 900; 7.5 of 30 min
    /// as 25 %.
    #[test]
    fn leakage_from_run_times() {
        close(100.0 * duty_factor(8.0, 48.0), 14.2857, 5e-5);
        close(900.0 * duty_factor(8.0, 48.0), 127.8, 0.8);
        close(100.0 * duty_factor(7.5, 22.5), 25.0, 0.0);
    }

    /// IEC 60034-1 S3: cyclic duration factor N/(N+R) (published, secondary
    /// texts); 25 % of a 10 min cycle is 2.5 min on; 10 min on needs 30 off.
    #[test]
    fn intermittent_duty() {
        close(duty_factor(2.5, 7.5), 0.25, 0.0);
        close(rest_needed(10.0, 0.25), 30.0, 0.0);
        close(duty_factor(90.0, 510.0), 0.15, 1e-15);
    }

    /// Receiver test of ORNL AMO-Tools-Suite (published): usable air
    /// (gal/7.48)·Δp/14.7 in standard cubic feet.
    #[test]
    fn receiver_usable_air() {
        for (gal, p1, p2, scf) in [
            (660.0, 110.0, 100.0, 60.024_009_603_8),
            (760.0, 150.0, 100.0, 345.592_782_567_6),
            (760.0, 150.0, 130.0, 138.237_113_027),
        ] {
            close(free_air(gal / 7.48, p1, p2, 14.7), scf, 1e-9);
        }
    }

    /// US DOE bleed-down formula V·(p1-p2)/(T·14.7): 100 ft³ from 100 to
    /// 50 psig in 5 min is 68.0272 cfm, 85.0340 with the 1.25 that corrects to
    /// normal system pressure (computed).
    #[test]
    fn bleed_down() {
        let cfm = free_air(100.0, 100.0, 50.0, 14.7) / 5.0;
        close(cfm, 68.0272, 5e-5);
        close(1.25 * cfm, 85.0340, 5e-5);
    }
}
