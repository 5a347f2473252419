//! A conclusion with its evidence, its rivals and the next check.

use serde::{Deserialize, Serialize};

use super::{Cell, Certainty, Severity, Text};

/// What was concluded. The set follows the patterns the diagnosis knows.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum FindingKind {
    /// A corner loses air: bag, fitting, line or dump valve.
    CornerLeak,
    /// A corner loses air only in some rests.
    IntermittentLeak,
    /// A dump valve does not always close after a dump.
    DumpValveNotReseating,
    /// A dump valve leaks while closed.
    DumpValvePassing,
    /// A fill valve leaks from the tank into its corner.
    FillValvePassing,
    /// The tank loses air on its own.
    TankLeak,
    /// Two circuits exchange air.
    CrossLeak,
    /// All falls are explained by temperature.
    TemperatureOnly,
    /// No leak was seen; the bound says how small one could hide.
    NoLeakSeen,
    /// A pressure sensor does not read zero when vented.
    SensorZeroDrift,
    /// A fill path has lost conductance.
    FillSlow,
    /// A dump path has lost conductance.
    DumpSlow,
    /// Fill and dump of one corner have lost conductance alike.
    LineRestricted,
    /// All fills are slow.
    SupplyRestricted,
    /// All dumps are slow.
    ExhaustRestricted,
    /// A valve answers later than it did.
    ValveLagGrowing,
    /// A valve at times lets nothing pass at first.
    ValveSticking,
    /// The compressor delivers less per minute.
    CompressorWear,
    /// Cut-in or cut-out pressure moved.
    PressureSwitchShift,
    /// Runs end early and pause long.
    ThermalCutOut,
    /// The compressor runs more than it is rated for.
    DutyTooHigh,
    /// Most of the compressor's work feeds a leak.
    LeakDrivenDuty,
    /// Air is left over or missing in the ledger.
    UnexplainedAir,
    /// Altitude or weather moved every gauge reading together.
    AltitudeOrWeather,
    /// A limit of the proof plan was met.
    ProofPassed,
    /// A limit of the proof plan was broken.
    ProofFailed,
    /// A limit of the proof plan could not be judged.
    ProofOpen,
    /// The recording itself has a fault that touches the answers.
    RecordingFault,
    /// The data is too short or too coarse for the question.
    TooLittleData,
}

impl FindingKind {
    /// Name as printed.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            FindingKind::CornerLeak => "corner leak",
            FindingKind::IntermittentLeak => "intermittent leak",
            FindingKind::DumpValveNotReseating => "dump valve not reseating",
            FindingKind::DumpValvePassing => "dump valve passing",
            FindingKind::FillValvePassing => "fill valve passing",
            FindingKind::TankLeak => "tank leak",
            FindingKind::CrossLeak => "cross leak",
            FindingKind::TemperatureOnly => "temperature only",
            FindingKind::NoLeakSeen => "no leak seen",
            FindingKind::SensorZeroDrift => "sensor zero drift",
            FindingKind::FillSlow => "slow fill",
            FindingKind::DumpSlow => "slow dump",
            FindingKind::LineRestricted => "line restricted",
            FindingKind::SupplyRestricted => "supply restricted",
            FindingKind::ExhaustRestricted => "exhaust restricted",
            FindingKind::ValveLagGrowing => "valve lag growing",
            FindingKind::ValveSticking => "sticking valve",
            FindingKind::CompressorWear => "compressor wear",
            FindingKind::PressureSwitchShift => "pressure switch shift",
            FindingKind::ThermalCutOut => "thermal cut-out",
            FindingKind::DutyTooHigh => "duty too high",
            FindingKind::LeakDrivenDuty => "duty driven by a leak",
            FindingKind::UnexplainedAir => "unexplained air",
            FindingKind::AltitudeOrWeather => "altitude or weather",
            FindingKind::ProofPassed => "limit met",
            FindingKind::ProofFailed => "limit broken",
            FindingKind::ProofOpen => "limit not judged",
            FindingKind::RecordingFault => "recording fault",
            FindingKind::TooLittleData => "too little data",
        }
    }
}

/// One measured fact behind a finding.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Evidence {
    /// What was measured, as a phrase.
    pub label: Text,
    /// The measurement.
    pub value: Cell,
    /// What a healthy car would show, or where the number came from.
    pub remark: Option<Text>,
}

/// One explanation among several.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Candidate {
    /// The explanation, as a phrase.
    pub name: Text,
    /// Its share of the likelihood among all candidates, 0 to 1.
    pub likelihood: f64,
}

/// What to do next to learn more.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct NextCheck {
    /// The check, as an instruction.
    pub instruction: Text,
    /// What can hurt while doing it; printed with it, never apart.
    pub caution: Option<Text>,
}

/// A conclusion.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Finding {
    /// What was concluded.
    pub kind: FindingKind,
    /// Where: a circuit, `tank`, `compressor_1`, …
    pub place: String,
    /// How urgent.
    pub severity: Severity,
    /// How sure.
    pub certainty: Certainty,
    /// The conclusion in one sentence.
    pub sentence: Text,
    /// What was measured.
    pub evidence: Vec<Evidence>,
    /// All explanations considered, most likely first.
    pub candidates: Vec<Candidate>,
    /// What to check next.
    pub next_check: Option<NextCheck>,
    /// What would tell the first two candidates apart.
    pub would_separate: Option<Text>,
}

impl Finding {
    /// A finding without evidence yet; `probability` between 0 and 1.
    #[must_use]
    pub fn new(
        kind: FindingKind,
        place: &str,
        severity: Severity,
        probability: f64,
        sentence: impl Into<Text>,
    ) -> Self {
        Finding {
            kind,
            place: place.to_string(),
            severity,
            certainty: Certainty::from_probability(probability),
            sentence: sentence.into(),
            evidence: Vec::new(),
            candidates: Vec::new(),
            next_check: None,
            would_separate: None,
        }
    }

    /// Add one measured fact.
    #[must_use]
    pub fn with_evidence(mut self, label: &str, value: impl Into<Cell>) -> Self {
        self.evidence.push(Evidence {
            label: label.into(),
            value: value.into(),
            remark: None,
        });
        self
    }

    /// Add one explanation with its share of the likelihood, 0 to 1. The list
    /// is kept with the most likely first.
    #[must_use]
    pub fn with_candidate(mut self, name: &str, likelihood: f64) -> Self {
        self.candidates.push(Candidate {
            name: name.into(),
            likelihood,
        });
        self.candidates
            .sort_by(|a, b| b.likelihood.total_cmp(&a.likelihood));
        self
    }

    /// Set the next check, with what can hurt while doing it.
    #[must_use]
    pub fn with_next_check(mut self, instruction: &str, caution: Option<&str>) -> Self {
        self.next_check = Some(NextCheck {
            instruction: instruction.into(),
            caution: caution.map(Text::from),
        });
        self
    }

    /// Say what would tell the first two candidates apart.
    #[must_use]
    pub fn with_separation(mut self, sentence: &str) -> Self {
        self.would_separate = Some(sentence.into());
        self
    }
}
