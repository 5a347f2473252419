//! What can be wrong with the car.

use serde::{Deserialize, Serialize};

/// Kind of fault.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum FaultKind {
    /// A circuit loses air to the outside at spring, fitting or line.
    CornerLeak,
    /// The dump valve of a circuit does not close fully.
    DumpValveLeak,
    /// The fill valve of a circuit lets tank air pass.
    FillValvePassing,
    /// The tank loses air at a fitting or drain.
    TankLeak,
    /// The compressor's check valve lets tank air back out.
    CheckValveLeak,
    /// Two circuits exchange air in the manifold.
    CrossLeak,
    /// Line or fitting between manifold and spring is narrowed.
    LineRestricted,
    /// The fill valve of a circuit opens less than it should.
    FillValveSlow,
    /// The dump valve of a circuit opens less than it should.
    DumpValveSlow,
    /// Both valves of a circuit answer later.
    ValvesLate,
    /// Tank outlet, filter or supply line is narrowed.
    SupplyRestricted,
    /// The common exhaust or silencer is narrowed.
    ExhaustRestricted,
    /// A compressor delivers less.
    CompressorWorn,
    /// A compressor gets rid of its heat less well (blocked fan or intake).
    CompressorOverheats,
    /// A pressure sensor's zero drifts.
    SensorZeroDrift,
}

impl FaultKind {
    /// The word a scenario and a truth file use.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            FaultKind::CornerLeak => "corner_leak",
            FaultKind::DumpValveLeak => "dump_valve_leak",
            FaultKind::FillValvePassing => "fill_valve_passing",
            FaultKind::TankLeak => "tank_leak",
            FaultKind::CheckValveLeak => "check_valve_leak",
            FaultKind::CrossLeak => "cross_leak",
            FaultKind::LineRestricted => "line_restricted",
            FaultKind::FillValveSlow => "fill_valve_slow",
            FaultKind::DumpValveSlow => "dump_valve_slow",
            FaultKind::ValvesLate => "valves_late",
            FaultKind::SupplyRestricted => "supply_restricted",
            FaultKind::ExhaustRestricted => "exhaust_restricted",
            FaultKind::CompressorWorn => "compressor_worn",
            FaultKind::CompressorOverheats => "compressor_overheats",
            FaultKind::SensorZeroDrift => "sensor_zero_drift",
        }
    }

    /// It is a leak, told by [`Fault::anr_cm3_min`].
    #[must_use]
    pub fn is_leak(self) -> bool {
        matches!(
            self,
            FaultKind::CornerLeak
                | FaultKind::DumpValveLeak
                | FaultKind::FillValvePassing
                | FaultKind::TankLeak
                | FaultKind::CheckValveLeak
                | FaultKind::CrossLeak
        )
    }
}

/// How a leak lets air through.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Law {
    /// A hole.
    Orifice,
    /// A thread or a seal.
    Laminar,
}

/// When a leak is open.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum When {
    /// Always.
    Always,
    /// While the place is colder than [`Fault::below_c`].
    Cold,
    /// From a dump of that circuit, by [`Fault::chance`], until its next fill.
    AfterDump,
    /// While driving.
    Driving,
    /// While the circuit stands lower than [`Fault::below_mm`].
    Low,
}

/// One fault.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Fault {
    /// What.
    pub kind: FaultKind,
    /// Where: a circuit, a compressor, or `tank`; may be left out where there is only one such place.
    #[serde(default)]
    pub place: String,
    /// The second circuit of a cross leak.
    #[serde(default)]
    pub other_place: String,
    /// Leak rate at the reference pressures (circuits 500, tank 1000 kPa gauge,
    /// to an outside of 101.325 kPa and 20 °C; passing valve: tank to an empty
    /// circuit), ANR cm³/min.
    #[serde(default)]
    pub anr_cm3_min: f64,
    /// Law of the leak.
    #[serde(default = "orifice")]
    pub law: Law,
    /// Critical ratio of an orifice.
    #[serde(default = "half")]
    pub b: f64,
    /// When it leaks.
    #[serde(default = "always")]
    pub when: When,
    /// Limit for [`When::Cold`], °C.
    #[serde(default)]
    pub below_c: f64,
    /// Limit for [`When::Low`], mm.
    #[serde(default)]
    pub below_mm: f64,
    /// It leaks only within these spans, h after the start; empty: at any time.
    #[serde(default)]
    pub spans_h: Vec<[f64; 2]>,
    /// Probability per dump for [`When::AfterDump`].
    #[serde(default = "one")]
    pub chance: f64,
    /// What a restriction or wear leaves in the end, 0 to 1; for late valves
    /// the lag is multiplied by it.
    #[serde(default = "one")]
    pub factor: f64,
    /// Drift of a sensor's zero, kPa per day.
    #[serde(default)]
    pub kpa_per_day: f64,
    /// It begins here, h after the start …
    #[serde(default)]
    pub from_h: f64,
    /// … and is fully there from here on, h.
    #[serde(default)]
    pub full_h: f64,
}

fn orifice() -> Law {
    Law::Orifice
}
fn always() -> When {
    When::Always
}
fn half() -> f64 {
    0.5
}
fn one() -> f64 {
    1.0
}

impl Fault {
    /// A leak that is always open.
    #[must_use]
    pub fn leak(kind: FaultKind, place: &str, anr_cm3_min: f64) -> Self {
        Fault {
            anr_cm3_min,
            ..Fault::new(kind, place)
        }
    }

    /// A restriction or wear that leaves `factor`, from the start on.
    #[must_use]
    pub fn leaving(kind: FaultKind, place: &str, factor: f64) -> Self {
        Fault {
            factor,
            ..Fault::new(kind, place)
        }
    }

    fn new(kind: FaultKind, place: &str) -> Self {
        Fault {
            kind,
            place: place.into(),
            other_place: String::new(),
            anr_cm3_min: 0.0,
            law: Law::Orifice,
            b: half(),
            when: When::Always,
            below_c: 0.0,
            below_mm: 0.0,
            spans_h: Vec::new(),
            chance: 1.0,
            factor: 1.0,
            kpa_per_day: 0.0,
            from_h: 0.0,
            full_h: 0.0,
        }
    }

    /// How far it has developed, 0 to 1.
    #[must_use]
    pub fn developed(&self, t_s: f64) -> f64 {
        let t_h = t_s / 3600.0;
        let inside = |s: &[f64; 2]| s[0] <= t_h && t_h < s[1];
        if !self.spans_h.is_empty() && !self.spans_h.iter().any(inside) {
            return 0.0;
        }
        if t_h >= self.full_h && t_h >= self.from_h {
            1.0
        } else if t_h <= self.from_h {
            0.0
        } else {
            (t_h - self.from_h) / (self.full_h - self.from_h)
        }
    }
}
