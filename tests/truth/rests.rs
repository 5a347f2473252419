//! Every fitted rest beside its truth, for whoever looks for the reason of a miss.

use crate::coverage::true_rate;
use crate::path::Judged;
use seep_report::analysis::leak::TemperatureUse;
use seep_sample_logs::truth::Truth;
use std::fmt::Write as _;

/// Head of the table.
pub(crate) const HEAD: &str = "seed,place,from_s,to_s,true_l_s,loss_l_s,se_l_s,dof,bridged,\
temperature,lower_bound,kelvin_range,kpa_abs,per_s,readings,lag1,after,volume_l_s\n";

/// One line per rest of a car.
pub(crate) fn lines(seed: u64, judged: &Judged, truth: &Truth) -> String {
    let mut out = String::new();
    for f in &judged.judgement.fits {
        let volume: f64 = f.shared_errors_l_per_s.iter().map(|e| e * e).sum();
        let _ = writeln!(
            out,
            "{seed},{},{},{},{:e},{:e},{:e},{},{},{},{},{},{},{:e},{},{},{:?},{:e}",
            f.place,
            f.t_s.0,
            f.t_s.1,
            true_rate(f, judged, truth),
            f.loss_l_per_s.value,
            f.loss_l_per_s.se,
            f.loss_l_per_s.degrees_of_freedom,
            f.bridged,
            f.temperature == TemperatureUse::Recorded,
            f.lower_bound,
            f.kelvin_range,
            f.mean_kpa_abs,
            f.per_s.value,
            f.readings.0,
            f.readings.1,
            f.after,
            volume.sqrt(),
        );
    }
    out
}
