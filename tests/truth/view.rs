//! What the report says about a car, in the bench's own words: the only place that
//! knows the report's types.

use crate::path::Judged;
use seep_report::analysis::leak::CM3_MIN_PER_L_S;
use seep_report::analysis::rest_model::Thermometer;
use seep_report::model::Severity;

/// A silence beyond this parts readings that are only bridged, s.
const BRIDGED_FROM_S: f64 = 900.0;

/// An interval for the loss of a volume over one rest, cm³/min ANR.
#[derive(Debug, Clone)]
pub(crate) struct RestView {
    /// Volume.
    pub place: String,
    /// From, Unix ms.
    pub from_ms: i64,
    /// To, Unix ms.
    pub to_ms: i64,
    /// Best value of the mean loss.
    pub value: f64,
    /// 95 % interval of the mean loss.
    pub interval: (f64, f64),
    /// Mean loss over the conductance at the usual pressure.
    pub flow_factor: f64,
    /// Only the lower end is claimed.
    pub lower_bound: bool,
    /// Known by its two ends.
    pub bridged: bool,
    /// No thermometer stood behind it.
    pub without_thermometer: bool,
}

/// The same for all rests of a volume, as conductance at its usual pressure.
#[derive(Debug, Clone)]
pub(crate) struct PooledView {
    /// Volume.
    pub place: String,
    /// Best value.
    pub value: f64,
    /// 95 % interval.
    pub interval: (f64, f64),
    /// Only the lower end is claimed.
    pub lower_bound: bool,
    /// Smallest detectable leak as printed; none where none is printed.
    pub limit: Option<f64>,
}

/// Everything the bench scores of the air.
#[derive(Debug, Clone, Default)]
pub(crate) struct View {
    /// Rest by rest.
    pub rests: Vec<RestView>,
    /// Volume by volume.
    pub pooled: Vec<PooledView>,
    /// The first sentence says that all is fine.
    pub fine: bool,
}

/// Of a judged log.
pub(crate) fn view(judged: &Judged) -> View {
    let j = &judged.judgement;
    let ms = |t_s: f64| (t_s * 1000.0) as i64 - judged.shift_ms;
    let cm3 = |(low, high): (f64, f64)| (low * CM3_MIN_PER_L_S, high * CM3_MIN_PER_L_S);
    let rests = j.at_rest.parks.iter().map(|p| RestView {
        place: p.place.clone(),
        from_ms: ms(p.t_s.0),
        to_ms: ms(p.t_s.1),
        value: p.loss_l_per_s.value * CM3_MIN_PER_L_S,
        interval: cm3(p.loss_l_per_s.interval_95()),
        flow_factor: p.flow_factor,
        lower_bound: p.is_lower_bound,
        bridged: p.longest_silence_s > BRIDGED_FROM_S,
        without_thermometer: p.thermometer == Thermometer::None,
    });
    let pooled = j.at_rest.volumes.iter().map(|v| {
        // As at the usual pressure of its rests.
        let usual = |l_per_s: f64| l_per_s * CM3_MIN_PER_L_S / v.flow_factor;
        let (low, high) = v.loss.loss_l_per_s.interval_95();
        PooledView {
            place: v.place.clone(),
            value: usual(v.loss.loss_l_per_s.value),
            interval: (usual(low), usual(high)),
            lower_bound: v.loss.lower_bound,
            limit: v.limit_l_per_s.map(usual),
        }
    });
    View {
        rests: rests.collect(),
        pooled: pooled.collect(),
        fine: j.verdict.severity == Severity::Fine,
    }
}

impl View {
    /// Smallest detectable leak printed for a volume.
    pub(crate) fn limit(&self, place: &str) -> Option<f64> {
        self.pooled.iter().find(|p| p.place == place)?.limit
    }
}
