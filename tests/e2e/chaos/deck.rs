//! What can happen to a recorder, and in which order.

use crate::live::clients::CLIENTS;
use crate::live::file_changes::VARIANTS;
use seep_tests::seeded::Seeded;

/// One deed; times in ms.
#[derive(Debug)]
pub(super) enum Deed {
    /// Another program opens, asks and closes the log.
    Client(usize),
    Kill,
    /// SIGSTOP and SIGCONT.
    Stop {
        ms: u64,
    },
    /// SIGSTOP and SIGKILL.
    StopThenKill {
        ms: u64,
    },
    Reload,
    /// SIGTERM and a new start.
    Restart,
    Files(usize),
    DiskFull {
        ms: u64,
        then_kill: bool,
    },
    Replug {
        away_ms: u64,
    },
    /// The wall clock is so far ahead of the machine's from now on.
    ClockStep {
        ahead_ms: i64,
    },
}

/// What the names of changes to files have in common.
const FILES: [&[&str]; 5] = [
    &["log renamed", "folder renamed"],
    &[
        "log deleted",
        "log and write-ahead log deleted",
        "write-ahead log deleted",
    ],
    &[
        "log replaced by something else",
        "log replaced by its own copy",
        "write-ahead log replaced",
    ],
    &[
        "log emptied",
        "log cut short",
        "log written over",
        "write-ahead log emptied",
    ],
    &["folder removed"],
];

#[derive(Debug, Clone, Copy)]
enum Kind {
    Client,
    Kill,
    Stop,
    StopThenKill,
    Reload,
    Restart,
    Files(usize),
    DiskFull,
    Replug,
    ClockStep,
}

/// One round: every kind at least once, clients and kills more often.
const ROUND: [Kind; 20] = [
    Kind::Client,
    Kind::Client,
    Kind::Client,
    Kind::Client,
    Kind::Kill,
    Kind::Kill,
    Kind::Stop,
    Kind::StopThenKill,
    Kind::Reload,
    Kind::Restart,
    Kind::Files(0),
    Kind::Files(1),
    Kind::Files(2),
    Kind::Files(3),
    Kind::Files(4),
    Kind::DiskFull,
    Kind::Replug,
    Kind::ClockStep,
    Kind::ClockStep,
    Kind::ClockStep,
];

/// Deals every kind of a round before any of the next.
#[derive(Debug, Default)]
pub(super) struct Deck {
    left: Vec<Kind>,
    rounds: u32,
}

impl Deck {
    /// Rounds that are over.
    pub(super) fn rounds(&self) -> u32 {
        self.rounds.saturating_sub(u32::from(!self.left.is_empty()))
    }

    /// The next deed.
    pub(super) fn deal(&mut self, random: &mut Seeded) -> Deed {
        if self.left.is_empty() {
            self.left = ROUND.to_vec();
            self.rounds += 1;
        }
        let kind = self.left.swap_remove(random.below(self.left.len()));
        Deed::of(kind, random)
    }
}

impl Deed {
    fn of(kind: Kind, random: &mut Seeded) -> Self {
        let ms = |random: &mut Seeded, most: usize| 200 + random.below(most) as u64;
        match kind {
            Kind::Client => Deed::Client(random.below(CLIENTS.len())),
            Kind::Kill => Deed::Kill,
            Kind::Stop => Deed::Stop {
                ms: ms(random, 6_000),
            },
            Kind::StopThenKill => Deed::StopThenKill {
                ms: ms(random, 6_000),
            },
            Kind::Reload => Deed::Reload,
            Kind::Restart => Deed::Restart,
            Kind::Files(group) => {
                let names = FILES[group];
                let name = names[random.below(names.len())];
                let variant = VARIANTS.iter().position(|v| v.name == name);
                Deed::Files(variant.expect("a change of this name"))
            }
            Kind::DiskFull => Deed::DiskFull {
                ms: ms(random, 6_000),
                then_kill: random.below(4) == 0,
            },
            Kind::Replug => Deed::Replug {
                away_ms: ms(random, 4_000),
            },
            // From half a second to a month, forward and back.
            Kind::ClockStep => {
                let most = 10_usize.pow(3 + random.below(7) as u32).min(2_600_000_000);
                let ahead_ms = 500 + random.below(most) as i64;
                Deed::ClockStep {
                    ahead_ms: if random.below(2) == 0 {
                        ahead_ms
                    } else {
                        -ahead_ms
                    },
                }
            }
        }
    }

    pub(super) fn name(&self) -> String {
        match self {
            Deed::Client(i) => format!("client: {}", CLIENTS[*i].0),
            Deed::Files(i) => format!("files: {}", VARIANTS[*i].name),
            other => format!("{other:?}"),
        }
    }
}

#[test]
fn every_change_of_files_is_in_a_group_and_a_round_deals_every_kind() {
    let mut grouped: Vec<&str> = FILES.concat();
    let mut all: Vec<&str> = VARIANTS.iter().map(|v| v.name).collect();
    grouped.sort_unstable();
    all.sort_unstable();
    assert_eq!(grouped, all);
    let (mut deck, mut random) = (Deck::default(), Seeded::new(1));
    let mut kinds = std::collections::BTreeSet::new();
    while deck.rounds() == 0 {
        let name = deck.deal(&mut random).name();
        kinds.insert(name.split([' ', ':']).next().map(str::to_string));
    }
    assert_eq!(kinds.len(), 10, "{kinds:?}");
}
