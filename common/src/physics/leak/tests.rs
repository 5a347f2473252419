use super::*;

fn close(got: f64, want: f64, relative: f64) {
    assert!(
        (got - want).abs() <= relative * want.abs(),
        "got {got}, want {want}"
    );
}

/// Temperature: an orifice passes √(T0/T), a laminar gap T0/T·μ0/μ. Computed
/// with the viscosities of CoolProp 8.0.0 at 101.325 kPa, 1.6713704e-5 Pa·s at
/// 263.15 K and 1.8205675e-5 at 293.15 K.
#[test]
fn leaks_are_larger_in_the_cold() {
    let cold = |shape: LeakShape| shape.kpa(700.0, 100.0, 263.15) / shape.kpa(700.0, 100.0, 293.15);
    let orifice = (293.15_f64 / 263.15).sqrt();
    close(
        cold(LeakShape::Orifice {
            critical_ratio: 0.3,
        }),
        orifice,
        1e-15,
    );
    let laminar = 293.15 / 263.15 * 1.820_567_5 / 1.671_370_4;
    close(cold(LeakShape::LaminarSeep), laminar, 1e-3);
}

#[test]
fn nothing_flows_back_in() {
    let orifice = LeakShape::Orifice {
        critical_ratio: 0.4,
    };
    for shape in [orifice, LeakShape::LaminarSeep] {
        assert!(shape.kpa(90.0, 95.0, 283.15).abs() < 1e-300);
        assert!(shape.kpa(100.0, 95.0, 283.15) > 0.0);
    }
}
