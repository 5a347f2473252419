//! What can be concluded of a car: one value, from the analysis to the sentence.
//!
//! A conclusion says what and where, without words and numbers. `findings/` puts it
//! into sentences; a command picks its own by [`Topic`].

use serde::{Deserialize, Serialize};

/// A fault, its place, or what else the same readings could be.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Conclusion {
    /// Nothing leaks.
    Tight,
    /// A corner loses air to the outside: bag, fitting, line or dump valve.
    CornerLeak {
        /// The circuit.
        place: String,
    },
    /// The tank loses air to the outside.
    TankLeak,
    /// A fill valve lets air of the tank into its corner.
    FillValvePassing {
        /// The circuit.
        place: String,
    },
    /// One corner gains what the other corner of its axle loses.
    CrossLeak {
        /// The circuit that loses.
        from: String,
        /// The circuit that gains.
        to: String,
    },
    /// A volume loses air in some rests only.
    IntermittentLeak {
        /// The circuit, or the tank.
        place: String,
    },
    /// A volume lost air until a day, and does no more.
    LeakEnded {
        /// The circuit, or the tank.
        place: String,
    },
    /// A dump valve does not always close after a dump.
    DumpValveNotReseating {
        /// The circuit.
        place: String,
    },
    /// Fill and dump of one corner are slow: the line or fitting they share.
    LineRestricted {
        /// The circuit.
        place: String,
    },
    /// Fill of one corner is slow: its fill valve or port.
    FillSlow {
        /// The circuit.
        place: String,
    },
    /// Dump of one corner is slow: its dump valve or silencer branch.
    DumpSlow {
        /// The circuit.
        place: String,
    },
    /// Every fill is slow: tank outlet, filter, supply line.
    SupplyRestricted,
    /// Every dump is slow: common exhaust, silencer.
    ExhaustRestricted,
    /// Valves answer later than they did.
    ValveLagGrowing {
        /// The circuit.
        place: String,
    },
    /// A valve at times lets nothing pass at first.
    ValveSticking {
        /// The circuit.
        place: String,
    },
    /// A pressure sensor does not read zero when vented.
    SensorZeroDrift {
        /// The circuit, or the tank.
        place: String,
    },
    /// The air ledger of a volume does not balance.
    UnexplainedAir {
        /// The circuit, or the tank.
        place: String,
    },
    /// Cut-in or cut-out pressure moved.
    PressureSwitchShift,
    /// A compressor delivers less per minute.
    CompressorWear {
        /// The compressor.
        place: String,
    },
    /// A compressor's intake filter is blocked: a cause of less delivery.
    IntakeFilterBlocked {
        /// The compressor.
        place: String,
    },
    /// A compressor's pump is worn: a cause of less delivery.
    PumpWorn {
        /// The compressor.
        place: String,
    },
    /// Runs end early and pause long.
    ThermalCutOut {
        /// The compressor.
        place: String,
    },
    /// A compressor runs more than it is rated for.
    DutyTooHigh {
        /// The compressor.
        place: String,
    },
    /// A limit of the plan was broken.
    ProofFailed {
        /// What the limit speaks of.
        place: String,
    },
    /// A limit of the plan could not be judged.
    ProofOpen {
        /// What the limit speaks of.
        place: String,
    },
    /// The recording itself has a fault that touches the answers.
    RecordingFault {
        /// `log`, or the part of it.
        place: String,
    },
}

/// Kind of a conclusion, without its place: what `kind` says in JSON.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum FindingKind {
    /// Of [`Conclusion::CornerLeak`].
    CornerLeak,
    /// Of [`Conclusion::IntermittentLeak`].
    IntermittentLeak,
    /// Of [`Conclusion::LeakEnded`].
    LeakEnded,
    /// Of [`Conclusion::DumpValveNotReseating`].
    DumpValveNotReseating,
    /// Of [`Conclusion::FillValvePassing`].
    FillValvePassing,
    /// Of [`Conclusion::TankLeak`].
    TankLeak,
    /// Of [`Conclusion::CrossLeak`].
    CrossLeak,
    /// Of [`Conclusion::Tight`].
    NoLeakSeen,
    /// Of [`Conclusion::SensorZeroDrift`].
    SensorZeroDrift,
    /// Of [`Conclusion::UnexplainedAir`].
    UnexplainedAir,
    /// Of [`Conclusion::FillSlow`].
    FillSlow,
    /// Of [`Conclusion::DumpSlow`].
    DumpSlow,
    /// Of [`Conclusion::LineRestricted`].
    LineRestricted,
    /// Of [`Conclusion::SupplyRestricted`].
    SupplyRestricted,
    /// Of [`Conclusion::ExhaustRestricted`].
    ExhaustRestricted,
    /// Of [`Conclusion::ValveLagGrowing`].
    ValveLagGrowing,
    /// Of [`Conclusion::ValveSticking`].
    ValveSticking,
    /// Of [`Conclusion::CompressorWear`].
    CompressorWear,
    /// Of [`Conclusion::PressureSwitchShift`].
    PressureSwitchShift,
    /// Of [`Conclusion::ThermalCutOut`].
    ThermalCutOut,
    /// Of [`Conclusion::DutyTooHigh`].
    DutyTooHigh,
    /// Of [`Conclusion::ProofFailed`].
    ProofFailed,
    /// Of [`Conclusion::ProofOpen`].
    ProofOpen,
    /// Of [`Conclusion::RecordingFault`].
    RecordingFault,
}

/// What a conclusion is about, by which a command picks its own.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Topic {
    /// Air lost or moved while parked.
    Air,
    /// How easily air passes valves and lines.
    Paths,
    /// When valves answer.
    Valves,
    /// What compressors deliver and how long they run.
    Compressor,
    /// What sensors read.
    Sensors,
    /// Where the air went.
    Ledger,
    /// Limits of a plan.
    Plan,
    /// The recording itself.
    Recording,
}

impl Conclusion {
    /// Returns the kind, without the place.
    #[must_use]
    pub fn kind(&self) -> FindingKind {
        match self {
            Conclusion::Tight => FindingKind::NoLeakSeen,
            Conclusion::CornerLeak { .. } => FindingKind::CornerLeak,
            Conclusion::TankLeak => FindingKind::TankLeak,
            Conclusion::FillValvePassing { .. } => FindingKind::FillValvePassing,
            Conclusion::CrossLeak { .. } => FindingKind::CrossLeak,
            Conclusion::IntermittentLeak { .. } => FindingKind::IntermittentLeak,
            Conclusion::LeakEnded { .. } => FindingKind::LeakEnded,
            Conclusion::DumpValveNotReseating { .. } => FindingKind::DumpValveNotReseating,
            Conclusion::LineRestricted { .. } => FindingKind::LineRestricted,
            Conclusion::FillSlow { .. } => FindingKind::FillSlow,
            Conclusion::DumpSlow { .. } => FindingKind::DumpSlow,
            Conclusion::SupplyRestricted => FindingKind::SupplyRestricted,
            Conclusion::ExhaustRestricted => FindingKind::ExhaustRestricted,
            Conclusion::ValveLagGrowing { .. } => FindingKind::ValveLagGrowing,
            Conclusion::ValveSticking { .. } => FindingKind::ValveSticking,
            Conclusion::SensorZeroDrift { .. } => FindingKind::SensorZeroDrift,
            Conclusion::UnexplainedAir { .. } => FindingKind::UnexplainedAir,
            Conclusion::PressureSwitchShift => FindingKind::PressureSwitchShift,
            Conclusion::CompressorWear { .. }
            | Conclusion::IntakeFilterBlocked { .. }
            | Conclusion::PumpWorn { .. } => FindingKind::CompressorWear,
            Conclusion::ThermalCutOut { .. } => FindingKind::ThermalCutOut,
            Conclusion::DutyTooHigh { .. } => FindingKind::DutyTooHigh,
            Conclusion::ProofFailed { .. } => FindingKind::ProofFailed,
            Conclusion::ProofOpen { .. } => FindingKind::ProofOpen,
            Conclusion::RecordingFault { .. } => FindingKind::RecordingFault,
        }
    }

    /// Returns the place under which it is found: of a cross leak the circuit that
    /// loses; empty where nothing leaks.
    #[must_use]
    pub fn place(&self) -> &str {
        match self {
            Conclusion::Tight => "",
            Conclusion::TankLeak
            | Conclusion::SupplyRestricted
            | Conclusion::PressureSwitchShift => "tank",
            Conclusion::ExhaustRestricted => "exhaust",
            Conclusion::CornerLeak { place }
            | Conclusion::FillValvePassing { place }
            | Conclusion::CrossLeak { from: place, .. }
            | Conclusion::IntermittentLeak { place }
            | Conclusion::LeakEnded { place }
            | Conclusion::DumpValveNotReseating { place }
            | Conclusion::LineRestricted { place }
            | Conclusion::FillSlow { place }
            | Conclusion::DumpSlow { place }
            | Conclusion::ValveLagGrowing { place }
            | Conclusion::ValveSticking { place }
            | Conclusion::SensorZeroDrift { place }
            | Conclusion::UnexplainedAir { place }
            | Conclusion::CompressorWear { place }
            | Conclusion::IntakeFilterBlocked { place }
            | Conclusion::PumpWorn { place }
            | Conclusion::ThermalCutOut { place }
            | Conclusion::DutyTooHigh { place }
            | Conclusion::ProofFailed { place }
            | Conclusion::ProofOpen { place }
            | Conclusion::RecordingFault { place } => place,
        }
    }
}

impl FindingKind {
    /// Returns the name as printed.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            FindingKind::CornerLeak => "corner leak",
            FindingKind::IntermittentLeak => "intermittent leak",
            FindingKind::LeakEnded => "leak that ended",
            FindingKind::DumpValveNotReseating => "dump valve not reseating",
            FindingKind::FillValvePassing => "fill valve passing",
            FindingKind::TankLeak => "tank leak",
            FindingKind::CrossLeak => "cross leak",
            FindingKind::NoLeakSeen => "no leak seen",
            FindingKind::SensorZeroDrift => "sensor zero drift",
            FindingKind::UnexplainedAir => "unexplained air",
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
            FindingKind::ProofFailed => "limit broken",
            FindingKind::ProofOpen => "limit not judged",
            FindingKind::RecordingFault => "recording fault",
        }
    }

    /// Returns what it is about.
    #[must_use]
    pub fn topic(self) -> Topic {
        match self {
            FindingKind::CornerLeak
            | FindingKind::IntermittentLeak
            | FindingKind::LeakEnded
            | FindingKind::DumpValveNotReseating
            | FindingKind::FillValvePassing
            | FindingKind::TankLeak
            | FindingKind::CrossLeak
            | FindingKind::NoLeakSeen => Topic::Air,
            FindingKind::FillSlow
            | FindingKind::DumpSlow
            | FindingKind::LineRestricted
            | FindingKind::SupplyRestricted
            | FindingKind::ExhaustRestricted => Topic::Paths,
            FindingKind::ValveLagGrowing | FindingKind::ValveSticking => Topic::Valves,
            FindingKind::CompressorWear
            | FindingKind::PressureSwitchShift
            | FindingKind::ThermalCutOut
            | FindingKind::DutyTooHigh => Topic::Compressor,
            FindingKind::SensorZeroDrift => Topic::Sensors,
            FindingKind::UnexplainedAir => Topic::Ledger,
            FindingKind::ProofFailed | FindingKind::ProofOpen => Topic::Plan,
            FindingKind::RecordingFault => Topic::Recording,
        }
    }
}
