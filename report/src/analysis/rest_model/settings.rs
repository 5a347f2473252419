//! Settings of the model that move a decision.

/// Prior odds, floors and thresholds of the model.
///
/// **Source**: judgement, unless a field names one. The defaults are those of the
/// table of results in DEVELOPERS.md; tests vary them.
#[derive(Debug, Clone, PartialEq)]
pub struct Settings {
    /// Share of a corner's air lost in 12 h from which a loss is worth naming: 0.5 %,
    /// about 1.5 mm of height.
    pub corner_floor_share: f64,
    /// The same for the tank.
    pub tank_floor_share: f64,
    /// Standard deviation of natural permeation, in floors.
    pub permeation_floors: f64,
    /// Scales of a real leak, in floors: half-normal slabs of equal weight.
    pub slab_floors: Vec<f64>,
    /// Prior probability of a plain leak of one volume.
    pub prior: f64,
    /// Probability from which a hypothesis is named.
    pub named_from: f64,
    /// Critical pressure ratio of a leak. **Source**: ISO 6358-1, typical of small
    /// orifices and fittings (b = 0.2 to 0.5); value by judgement.
    pub critical_ratio: f64,
    /// Rounds of learning and selection.
    pub rounds: usize,
    /// Threads for the reduction of rests.
    pub threads: usize,
}

impl Default for Settings {
    fn default() -> Self {
        Self {
            corner_floor_share: 0.005,
            tank_floor_share: 0.003,
            permeation_floors: 0.4,
            slab_floors: vec![3.0, 20.0, 150.0, 2000.0, 30_000.0],
            prior: 0.02,
            named_from: 0.95,
            critical_ratio: 0.3,
            rounds: 3,
            threads: crate::parallel::processors(),
        }
    }
}
