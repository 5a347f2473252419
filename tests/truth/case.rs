//! What is wrong with a car of the bench.

use std::fmt;

/// The fault of a car, one row of the confusion matrix.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub(crate) enum Case {
    /// Nothing.
    None,
    /// A corner leaks all the time.
    CornerLeak,
    /// A corner leaks in the cold only.
    ColdLeak,
    /// A dump valve does not always reseat.
    AfterDump,
    /// A corner leaks while driving only.
    WhileDriving,
    /// A closed dump valve leaks: to a mass balance, a corner leak.
    DumpValveLeak,
    /// A fill valve passes.
    FillPassing,
    /// The tank leaks.
    TankLeak,
    /// The check valve leaks: to a mass balance, a tank leak.
    CheckValve,
    /// Two corners of an axle exchange air.
    CrossLeak,
    /// A line is narrowed.
    Line,
    /// A fill valve is slow.
    FillSlow,
    /// A dump valve is slow.
    DumpSlow,
    /// The valves of a corner answer late.
    Late,
    /// The supply is narrowed.
    Supply,
    /// The exhaust is narrowed.
    Exhaust,
    /// A compressor wears.
    Wear,
    /// A compressor overheats.
    Overheats,
    /// A sensor's zero drifts.
    ZeroDrift,
}

impl Case {
    /// Every fault.
    pub(crate) const FAULTS: [Case; 18] = [
        Case::CornerLeak,
        Case::ColdLeak,
        Case::AfterDump,
        Case::WhileDriving,
        Case::DumpValveLeak,
        Case::FillPassing,
        Case::TankLeak,
        Case::CheckValve,
        Case::CrossLeak,
        Case::Line,
        Case::FillSlow,
        Case::DumpSlow,
        Case::Late,
        Case::Supply,
        Case::Exhaust,
        Case::Wear,
        Case::Overheats,
        Case::ZeroDrift,
    ];

    /// The case of a seed: every second car is healthy, the faults take turns
    /// among the others.
    pub(crate) fn of_seed(seed: u64) -> Case {
        if seed.is_multiple_of(2) {
            return Case::None;
        }
        Self::FAULTS[(seed / 2 % Self::FAULTS.len() as u64) as usize]
    }

    /// Word in the table and for `--only`.
    pub(crate) fn word(self) -> &'static str {
        match self {
            Case::None => "none",
            Case::CornerLeak => "corner_leak",
            Case::ColdLeak => "cold_only_leak",
            Case::AfterDump => "after_dump_leak",
            Case::WhileDriving => "driving_leak",
            Case::DumpValveLeak => "dump_valve_leak",
            Case::FillPassing => "fill_valve_passing",
            Case::TankLeak => "tank_leak",
            Case::CheckValve => "check_valve_leak",
            Case::CrossLeak => "cross_leak",
            Case::Line => "line_restricted",
            Case::FillSlow => "fill_valve_slow",
            Case::DumpSlow => "dump_valve_slow",
            Case::Late => "valves_late",
            Case::Supply => "supply_restricted",
            Case::Exhaust => "exhaust_restricted",
            Case::Wear => "compressor_worn",
            Case::Overheats => "compressor_overheats",
            Case::ZeroDrift => "sensor_zero_drift",
        }
    }

    /// It is a leak.
    pub(crate) fn is_leak(self) -> bool {
        matches!(
            self,
            Case::CornerLeak
                | Case::ColdLeak
                | Case::AfterDump
                | Case::DumpValveLeak
                | Case::FillPassing
                | Case::TankLeak
                | Case::CheckValve
                | Case::CrossLeak
        )
    }
}

impl fmt::Display for Case {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(self.word())
    }
}
