//! Every fitted rest beside its truth, for whoever looks for the reason of a miss.

use crate::car::Car;
use crate::coverage::true_cm3_min;
use crate::view::View;
use seep_sample_logs::truth::Truth;
use std::fmt::Write as _;

/// Head of the table.
pub(crate) const HEAD: &str = "seed,case,class,place,from_ms,to_ms,true_cm3_min,value_cm3_min,\
low_cm3_min,high_cm3_min,bridged,without_thermometer,lower_bound\n";

/// One line per rest of a car.
pub(crate) fn lines(car: &Car, view: &View, truth: &Truth) -> String {
    let mut out = String::new();
    for r in &view.rests {
        let _ = writeln!(
            out,
            "{},{},{},{},{},{},{:e},{:e},{:e},{:e},{},{},{}",
            car.seed,
            car.case,
            car.class.to_string().replace(", ", "/"),
            r.place,
            r.from_ms,
            r.to_ms,
            true_cm3_min(r, truth),
            r.value,
            r.interval.0,
            r.interval.1,
            r.bridged,
            r.without_thermometer,
            r.lower_bound,
        );
    }
    out
}
