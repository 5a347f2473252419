//! How the bus and the way from it are doing: what is counted, what is worth a
//! note, and whether the source can be read.

use super::interface::{InterfaceState, Meter};
use super::trouble::{BusState, Trouble};
use seep_common::time::BootMs;

/// Errors without a frame for so long are doubted, ms.
const LONG_ENOUGH_MS: i64 = 5_000;

/// So many errors without a frame are doubted.
const MANY_ERRORS: u64 = 20;

/// Everything known of a bus besides its frames.
#[derive(Debug, Clone, Default)]
pub(super) struct Health {
    trouble: Trouble,
    /// The interface that the socket is bound to.
    index: Option<u32>,
    noted: Option<BusState>,
    packets: Meter,
    controller_overruns: Meter,
    queue_overruns: Meter,
    driver_drops: Meter,
    socket_drops: Meter,
    /// Frames of no known form.
    pub odd_frames: u64,
    /// Since when no frame has come, and how many errors there were by then.
    since: Option<(BootMs, u64)>,
    doubted: bool,
}

impl Health {
    /// A socket was opened on the interface as it is now.
    pub(super) fn opened(&mut self, look: Option<InterfaceState>) {
        self.index = look.map(|look| look.index);
        self.socket_drops.start_at_zero();
        self.trouble.state = None;
        self.since = None;
        self.doubted = false;
    }

    /// A frame of the bus arrived.
    pub(super) fn heard(&mut self) {
        self.since = None;
        self.doubted = false;
        // A controller that is off hears nothing: it has come back without a word.
        if self.trouble.state == Some(BusState::Off) {
            self.trouble.state = Some(BusState::Active);
        }
    }

    /// The controller reported an error.
    pub(super) fn reported(&mut self, report: &socketcan::CanError) {
        self.trouble.take(report);
    }

    /// The driver was asked for the state.
    pub(super) fn told(&mut self, state: BusState) {
        self.trouble.state = Some(state);
    }

    /// The counts of the system at `t_ms`; true when anything moved on the bus.
    pub(super) fn look(&mut self, t_ms: BootMs, look: InterfaceState) -> bool {
        let before = self.packets.total;
        self.packets.read(look.packets);
        self.controller_overruns.read(look.controller_overruns);
        self.queue_overruns.read(look.queue_overruns);
        self.driver_drops.read(look.driver_drops);
        let errors = self.trouble.of_the_bus();
        let (since_ms, then) = *self.since.get_or_insert((t_ms, errors));
        if t_ms.since(since_ms) >= LONG_ENOUGH_MS && errors - then >= MANY_ERRORS {
            self.doubted = true;
        }
        self.packets.total > before
    }

    /// What the socket has dropped since it was opened.
    pub(super) fn dropped(&mut self, drops: Option<u64>) {
        if let Some(drops) = drops {
            self.socket_drops.read(drops);
        }
    }

    /// True while the socket is bound to the interface that has the name now.
    pub(super) fn is_same(&self, look: Option<InterfaceState>) -> bool {
        self.index.is_none() || look.map(|look| look.index) == self.index
    }

    /// A change of the bus worth a note. At most one for each call, however often
    /// the state went to and fro.
    pub(super) fn news(&mut self) -> Option<String> {
        let now = self.trouble.state?;
        let before = self.noted.replace(now);
        match before {
            Some(before) if before == now => None,
            None if now == BusState::Active => None,
            Some(before) => Some(format!(
                "bus state: {} (was {})",
                now.words(),
                before.words()
            )),
            None => Some(format!("bus state: {}", now.words())),
        }
    }

    /// Why nothing can be read, if so.
    pub(super) fn cause(&self, name: &str, look: Option<InterfaceState>) -> Option<String> {
        if look.is_some_and(|look| !look.is_up) {
            return Some(down(name));
        }
        if self.trouble.state == Some(BusState::Off) {
            return Some(format!(
                "{name} is {}; check bit rate and wiring, and let the system restart it by itself \
                 (`RestartSec=` of systemd-networkd)",
                BusState::Off.words()
            ));
        }
        self.doubted.then(|| {
            format!(
                "errors on {name}, and no frame of the rig: wrong bit rate suspected, or the \
                 wiring; a wrong bit rate disturbs the vehicle's own bus, so take {name} down or \
                 set it to listen only until that is clear"
            )
        })
    }

    /// Every count with its name, as it is recorded.
    pub(super) fn named(&self) -> impl Iterator<Item = (&'static str, u64)> {
        let lost = [
            ("controller_overruns", self.controller_overruns.total),
            ("driver_queue_overruns", self.queue_overruns.total),
            ("driver_drops", self.driver_drops.total),
            ("socket_drops", self.socket_drops.total),
            ("odd_frames", self.odd_frames),
        ];
        self.trouble.named().into_iter().chain(lost)
    }
}

/// The interface is there, but not up.
pub(super) fn down(name: &str) -> String {
    format!("{name} is down; give it a bit rate and bring it up (systemd-networkd, or ip link)")
}

#[cfg(test)]
mod tests {
    use super::*;
    use socketcan::CanErrorFrame;

    fn look(packets: u64) -> InterfaceState {
        InterfaceState {
            index: 3,
            is_can: true,
            is_up: true,
            packets,
            controller_overruns: 10,
            queue_overruns: 0,
            driver_drops: 5,
        }
    }

    fn report(health: &mut Health, class: u32, data: [u8; 8]) {
        let frame = CanErrorFrame::new_error(class, &data).expect("fits");
        health.reported(&frame.into_error());
    }

    #[test]
    fn losses_before_the_start_do_not_count_and_those_after_do() {
        let mut health = Health::default();
        health.opened(Some(look(0)));
        assert!(
            !health.look(BootMs(0), look(100)),
            "the first look sets the start"
        );
        health.dropped(Some(0));
        let mut later = look(130);
        later.controller_overruns = 12;
        later.driver_drops = 9;
        assert!(health.look(BootMs(1_000), later));
        health.dropped(Some(45));
        assert!(!health.look(BootMs(2_000), later));
        let counted: Vec<_> = health.named().filter(|(_, n)| *n > 0).collect();
        let expected = [
            ("controller_overruns", 2),
            ("driver_drops", 4),
            ("socket_drops", 45),
        ];
        assert_eq!(counted, expected);
        // A new socket starts at nothing, and nothing is counted twice.
        health.opened(Some(look(0)));
        health.dropped(Some(2));
        assert!(health.named().any(|c| c == ("socket_drops", 47)));
    }

    #[test]
    fn another_interface_of_the_same_name_is_not_the_same() {
        let mut health = Health::default();
        health.opened(Some(look(0)));
        assert!(health.is_same(Some(look(9))));
        let other = InterfaceState {
            index: 4,
            ..look(0)
        };
        assert!(!health.is_same(Some(other)));
        assert!(!health.is_same(None));
        health.opened(None);
        assert!(health.is_same(None), "where the system tells nothing");
    }

    #[test]
    fn states_are_noted_once_and_bus_off_is_a_loss() {
        let mut health = Health::default();
        health.opened(Some(look(0)));
        health.told(BusState::Active);
        assert_eq!(health.news(), None);
        for _ in 0..100 {
            report(&mut health, 0x04, [0, 0x10, 0, 0, 0, 0, 0, 0]);
            report(&mut health, 0x04, [0, 0x40, 0, 0, 0, 0, 0, 0]);
        }
        assert_eq!(health.news(), None);
        report(&mut health, 0x40, [0; 8]);
        let news = health.news().expect("bus-off");
        assert!(news.starts_with("bus state: bus-off"), "{news}");
        let cause = health.cause("can0", Some(look(0))).expect("lost");
        assert!(cause.contains("RestartSec="), "{cause}");
        report(&mut health, 0x100, [0; 8]);
        assert_eq!(health.cause("can0", Some(look(0))), None);
        report(&mut health, 0x40, [0; 8]);
        health.heard();
        assert_eq!(health.cause("can0", Some(look(0))), None);
    }

    #[test]
    fn errors_without_a_frame_are_doubted_until_one_comes() {
        let mut health = Health::default();
        health.opened(Some(look(0)));
        for second in 0..6 {
            health.look(BootMs(second * 1_000), look(0));
            for _ in 0..10 {
                report(&mut health, 0x88, [0, 0, 0x04, 0, 0, 0, 0, 0]);
            }
        }
        let cause = health.cause("can0", Some(look(0))).expect("doubt");
        assert!(cause.contains("wrong bit rate suspected"), "{cause}");
        health.heard();
        assert_eq!(health.cause("can0", Some(look(0))), None);
    }

    #[test]
    fn a_link_that_is_down_says_how_to_bring_it_up() {
        let mut health = Health::default();
        let down = InterfaceState {
            is_up: false,
            ..look(0)
        };
        health.opened(Some(down));
        let cause = health.cause("can0", Some(down)).expect("down");
        assert!(cause.starts_with("can0 is down"), "{cause}");
    }
}
