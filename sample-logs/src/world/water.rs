//! Water vapour: the part of a pressure that the law of dry air does not know.

/// Pressure of saturated vapour over water, Pa: `611.2·exp(17.62·t/(243.12 + t))`.
///
/// **Units**: K in. **Source**: Magnus formula with the coefficients of WMO No. 8
/// (CIMO guide); 2.339 kPa at 20 °C by IAPWS-95.
pub(super) fn saturated_pa(kelvin: f64) -> f64 {
    let celsius = kelvin - super::ZERO_CELSIUS_K;
    611.2 * libm::exp(17.62 * celsius / (243.12 + celsius))
}

/// Pressure of the vapour in a volume, Pa, that came as a share of the dry air's
/// pressure and condenses where it is too much.
pub(super) fn vapour_pa(share: f64, dry_pa: f64, kelvin: f64) -> f64 {
    (share * dry_pa).min(saturated_pa(kelvin))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn saturated_vapour_agrees_with_the_steam_table() {
        for (celsius, kpa) in [(0.01, 0.6117), (20.0, 2.3393), (40.0, 7.3849)] {
            let found = saturated_pa(celsius + 273.15) / 1000.0;
            assert!((found / kpa - 1.0).abs() < 3e-3, "{celsius}: {found}");
        }
    }

    #[test]
    fn condenses_in_the_cold() {
        assert_eq!(vapour_pa(0.002, 500e3, 300.0), 1000.0);
        assert!(vapour_pa(0.002, 500e3, 275.0) < 800.0);
    }
}
