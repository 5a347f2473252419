use super::*;
use crate::rig::VolumeModel;
use proptest::prelude::*;

fn close(got: f64, want: f64, relative: f64) {
    assert!(
        (got - want).abs() <= relative * want.abs() + 1e-300,
        "got {got}, want {want}"
    );
}

/// Data set RPN15A of Fritsch and Carlson 1980 (from memory); values and slopes
/// computed with scipy 1.17.1, PchipInterpolator, which has the same slopes.
#[test]
fn monotone_curve_against_scipy() {
    let x = [7.99, 8.09, 8.19, 8.7, 9.2, 10.0, 12.0, 15.0, 20.0];
    let y = [
        0.0,
        2.764_29e-5,
        4.374_98e-2,
        0.169_183,
        0.469_428,
        0.943_740,
        0.998_636,
        0.999_919,
        0.999_994,
    ];
    let curve = MonotoneCurve::new(&x, &y).expect("rising");
    for (at, value, slope) in [
        (8.0, 2.767_433_863_187_248e-7, 5.534_518_408_242_687e-5),
        (8.15, 0.023_528_278_365_786_123, 0.589_117_039_308_802_5),
        (8.5, 0.116_632_576_939_275_5, 0.205_802_252_515_055_85),
        (9.0, 0.337_534_326_846_198_1, 0.681_246_877_669_276_2),
        (9.7, 0.828_569_378_652_316_4, 0.633_161_996_170_665_8),
        (11.0, 0.986_043_362_535_050_2, 0.025_866_439_773_565_023),
        (13.3, 0.999_515_793_889_295_6, 4.674_961_864_502_277_3e-4),
        (19.0, 0.999_991_227_949_380_9, 5.601_088_583_484_486e-6),
    ] {
        close(curve.value(at), value, 1e-11);
        close(curve.slope(at), slope, 1e-11);
    }
}

/// A bag's volume table (invented), computed with scipy 1.17.1.
#[test]
fn volume_table_against_scipy() {
    let curve = VolumeCurve::table(
        &[-60.0, -20.0, 0.0, 35.0, 80.0],
        &[1.1, 1.6, 2.0, 2.85, 3.4],
    )
    .expect("rising");
    for (mm, litres, slope) in [
        (-60.0, 1.1, 0.0075),
        (-45.0, 1.246_638_569_078_947_7, 0.011_811_266_447_368_421),
        (-10.0, 1.785_113_219_094_247_4, 0.020_616_585_067_319_46),
        (10.0, 2.245_804_116_584_399, 0.026_572_607_395_791_516),
        (50.0, 3.084_390_076_546_579_3, 0.014_484_126_984_126_981),
        (80.0, 3.4, 0.005_436_507_936_507_93),
    ] {
        close(curve.volume_l(mm), litres, 1e-14);
        close(curve.slope_l_per_mm(mm), slope, 1e-13);
        assert!((curve.height_mm(litres).expect("rising") - mm).abs() < 1e-9);
    }
    // Straight beyond the ends.
    close(curve.volume_l(-70.0), 1.1 - 0.075, 1e-12);
    assert!((curve.height_mm(1.1 - 0.075).expect("rising") + 70.0).abs() < 1e-9);
}

#[test]
fn tables_that_do_not_rise_are_refused() {
    let curve = |x: &[f64], y: &[f64]| MonotoneCurve::new(x, y).map(|_| ());
    assert_eq!(
        curve(&[0.0], &[1.0]),
        Err(CurveError::Length { x: 1, y: 1 })
    );
    assert_eq!(
        curve(&[0.0, 0.0], &[1.0, 2.0]),
        Err(CurveError::NotRising { at: 1 })
    );
    assert_eq!(
        curve(&[0.0, 1.0, 2.0], &[1.0, 2.0, 1.9]),
        Err(CurveError::Falling { at: 2 })
    );
    assert_eq!(
        curve(&[0.0, f64::NAN], &[1.0, 2.0]),
        Err(CurveError::NotRising { at: 1 })
    );
}

#[test]
fn rig_models_become_curves() {
    let none = VolumeCurve::from_rig(&VolumeModel::Unknown).expect("no table");
    assert_eq!(none, None);
    let fixed = VolumeCurve::from_rig(&VolumeModel::Fixed { volume_l: 20.0 });
    assert_eq!(fixed.expect("no table"), Some(VolumeCurve::Fixed(20.0)));
}

/// Cooling by 10 K at constant amount and load: height falls, pressure stays.
/// Ideal gas: ΔV/V = ΔT/T.
#[test]
fn cooling_sinks_a_sprung_corner() {
    let spring = spring();
    let warm = spring.at_rest(12.0, 293.15, 5000.0, 100.0);
    let cold = spring.at_rest(12.0, 283.15, 5000.0, 100.0);
    close(cold.kpa_abs, warm.kpa_abs, 1e-14);
    let sunk_l = spring.volume.volume_l(warm.height_mm) - spring.volume.volume_l(cold.height_mm);
    close(sunk_l, 2.0 * 10.0 / 293.15, 1e-9);
}

/// On a stop the amount sets the pressure, and the stop carries the rest.
#[test]
fn on_the_stops_the_volume_is_fixed() {
    let spring = spring();
    let low = spring.at_rest(3.0, 293.15, 5000.0, 100.0);
    assert_eq!(low.stop, Stop::Lower);
    close(low.kpa_abs, 300.0 / 1.2, 1e-12);
    close(spring.stop_load_n(&low, 5000.0, 100.0), 3500.0, 1e-12);
    let high = spring.at_rest(30.0, 293.15, 5000.0, 100.0);
    assert_eq!(high.stop, Stop::Upper);
    close(high.kpa_abs, 1000.0, 1e-12);
    close(spring.stop_load_n(&high, 5000.0, 100.0), -4000.0, 1e-12);
    close(gauge_for_load_kpa(load_n(432.1, 87.0), 87.0), 432.1, 1e-15);
}

fn spring() -> AirSpring {
    AirSpring {
        volume: VolumeCurve::Area {
            at_zero_l: 2.0,
            effective_area_cm2: 100.0,
        },
        effective_area_cm2: 100.0,
        lower_stop_mm: -80.0,
        upper_stop_mm: 100.0,
    }
}

proptest! {
    /// Never overshoots, slope never negative and equal to the difference
    /// quotient, inverse returns.
    #[test]
    fn monotone_curve_is_monotone(
        steps in prop::collection::vec((0.5..40.0_f64, 0.0..3.0_f64), 2..9), share in 0.001..0.999_f64,
    ) {
        let (mut x, mut y) = (vec![-60.0], vec![1.0]);
        for (dx, dy) in &steps {
            x.push(x[x.len() - 1] + dx);
            y.push(y[y.len() - 1] + dy);
        }
        let curve = MonotoneCurve::new(&x, &y).expect("in domain");
        let span = x[x.len() - 1] - x[0];
        let at = x[0] + share * span;
        prop_assert!(curve.slope(at) >= -1e-12);
        let h = 1e-4;
        let quotient = (curve.value(at + h) - curve.value(at - h)) / (2.0 * h);
        prop_assert!((quotient - curve.slope(at)).abs() < 1e-3 * (1.0 + quotient.abs()));
        let i = x.partition_point(|&k| k <= at) - 1;
        prop_assert!(curve.value(at) >= y[i] - 1e-12 && curve.value(at) <= y[i + 1] + 1e-12);
        if curve.slope(at) > 1e-3 {
            let back = curve.inverse(curve.value(at)).expect("in domain");
            prop_assert!((back - at).abs() < 1e-6, "{} {}", back, at);
        }
    }

    /// More air never lowers a spring nor its pressure.
    #[test]
    fn more_air_never_sinks(anr in 0.5..40.0_f64, more in 0.0..5.0_f64, load in 1000.0..9000.0_f64) {
        let a = spring().at_rest(anr, 283.0, load, 98.0);
        let b = spring().at_rest(anr + more, 283.0, load, 98.0);
        prop_assert!(b.height_mm >= a.height_mm - 1e-9);
        prop_assert!(b.kpa_abs >= a.kpa_abs - 1e-9);
    }
}
