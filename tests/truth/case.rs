//! What is wrong with a car of the bench.

use seep_sample_logs::rng::Noise;
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
    /// A corner leaks below a height only.
    LowLeak,
    /// A corner leaks on two nights only.
    SomeNights,
    /// A corner leaks more and more.
    Growing,
    /// Two corners leak.
    TwoLeaks,
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
    pub(crate) const FAULTS: [Case; 22] = [
        Case::CornerLeak,
        Case::ColdLeak,
        Case::LowLeak,
        Case::SomeNights,
        Case::Growing,
        Case::TwoLeaks,
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

    /// The fault of a seed: four of five are leaks, plain ones of a corner the
    /// most frequent.
    pub(crate) fn of_seed(seed: u64) -> Case {
        let mut draw = Noise::new(seed, "case");
        let leaks: Vec<Case> = Self::FAULTS.into_iter().filter(|c| c.is_leak()).collect();
        let others = Self::FAULTS.into_iter().filter(|c| !c.is_leak());
        let pick = |from: &[Case], share: f64| from[(share * from.len() as f64) as usize];
        if draw.chance(0.8) {
            if draw.chance(0.3) {
                return Case::CornerLeak;
            }
            pick(&leaks, draw.uniform())
        } else {
            let others: Vec<Case> = others.collect();
            pick(&others, draw.uniform())
        }
    }

    /// Word in the table and for `--only`.
    pub(crate) fn word(self) -> &'static str {
        match self {
            Case::None => "none",
            Case::CornerLeak => "corner_leak",
            Case::ColdLeak => "cold_only_leak",
            Case::LowLeak => "low_only_leak",
            Case::SomeNights => "two_nights_leak",
            Case::Growing => "growing_leak",
            Case::TwoLeaks => "two_leaks",
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
                | Case::LowLeak
                | Case::SomeNights
                | Case::Growing
                | Case::TwoLeaks
                | Case::AfterDump
                | Case::DumpValveLeak
                | Case::FillPassing
                | Case::TankLeak
                | Case::CheckValve
                | Case::CrossLeak
        )
    }

    /// It leaks all the time, at one place, by one hole.
    pub(crate) fn is_plain(self) -> bool {
        matches!(
            self,
            Case::CornerLeak
                | Case::DumpValveLeak
                | Case::FillPassing
                | Case::TankLeak
                | Case::CheckValve
        )
    }
}

impl fmt::Display for Case {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(self.word())
    }
}
