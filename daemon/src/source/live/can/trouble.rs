//! Error reports of the controller, counted by kind, and the state of the bus.
//!
//! **Source**: Linux `can/error.h` for the classes (decoded by the crate
//! socketcan); ISO 11898-1 for error active, error passive and bus-off (96, 128,
//! 256 errors; from memory, text not seen).

use socketcan::errors::ControllerProblems;
use socketcan::nl::CanState;
use socketcan::{CanError, ErrorCause};

/// How the controller takes part in the bus.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum BusState {
    Active,
    Warning,
    Passive,
    Off,
    Stopped,
    Sleeping,
}

impl BusState {
    /// The words of the standard.
    pub(super) fn words(self) -> &'static str {
        match self {
            BusState::Active => "error active (normal)",
            BusState::Warning => "error active, many errors",
            BusState::Passive => "error passive: very many errors",
            BusState::Off => "bus-off: too many errors, the controller has left the bus",
            BusState::Stopped => "stopped",
            BusState::Sleeping => "sleeping",
        }
    }
}

impl From<CanState> for BusState {
    fn from(state: CanState) -> Self {
        match state {
            CanState::ErrorActive => BusState::Active,
            CanState::ErrorWarning => BusState::Warning,
            CanState::ErrorPassive => BusState::Passive,
            CanState::BusOff => BusState::Off,
            CanState::Stopped => BusState::Stopped,
            CanState::Sleeping => BusState::Sleeping,
        }
    }
}

/// Errors by kind since the start, and the state they tell.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Trouble {
    /// `None` until anything tells it.
    pub state: Option<BusState>,
    send_timeouts: u64,
    lost_arbitrations: u64,
    controller_overflows: u64,
    protocol_violations: u64,
    transceiver_faults: u64,
    not_acknowledged: u64,
    bus_errors: u64,
    bus_offs: u64,
    restarts: u64,
    other: u64,
}

impl Trouble {
    /// Take an error report.
    pub(super) fn take(&mut self, error: &CanError) {
        for cause in error.causes() {
            self.take_cause(cause);
        }
    }

    fn take_cause(&mut self, cause: &ErrorCause) {
        match cause {
            ErrorCause::TransmitTimeout => self.send_timeouts += 1,
            ErrorCause::LostArbitration(_) => self.lost_arbitrations += 1,
            ErrorCause::Controller(problems) => self.take_controller(*problems),
            ErrorCause::Protocol { .. } => self.protocol_violations += 1,
            ErrorCause::Transceiver { .. } => self.transceiver_faults += 1,
            ErrorCause::NoAck => self.not_acknowledged += 1,
            ErrorCause::BusOff => {
                self.bus_offs += 1;
                self.state = Some(BusState::Off);
            }
            ErrorCause::BusError => self.bus_errors += 1,
            ErrorCause::Restarted => {
                self.restarts += 1;
                self.state = Some(BusState::Active);
            }
            // The error counters tell nothing that the state does not.
            ErrorCause::Counters { .. } => {}
            _ => self.other += 1,
        }
    }

    fn take_controller(&mut self, problems: ControllerProblems) {
        use ControllerProblems as Is;
        if problems.contains(Is::RX_OVERFLOW) {
            self.controller_overflows += 1;
        }
        let state = if problems.intersects(Is::RX_PASSIVE | Is::TX_PASSIVE) {
            BusState::Passive
        } else if problems.intersects(Is::RX_WARNING | Is::TX_WARNING) {
            BusState::Warning
        } else if problems.contains(Is::ACTIVE) {
            BusState::Active
        } else {
            return;
        };
        self.state = Some(state);
    }

    /// Reports that say that bits on the bus were not as they should be.
    pub(super) fn of_the_bus(&self) -> u64 {
        self.protocol_violations + self.bus_errors
    }

    /// Every count with its name, as it is recorded.
    pub(super) fn named(&self) -> [(&'static str, u64); 10] {
        [
            ("send_timeouts", self.send_timeouts),
            ("lost_arbitrations", self.lost_arbitrations),
            ("controller_overflow_reports", self.controller_overflows),
            ("protocol_violations", self.protocol_violations),
            ("transceiver_faults", self.transceiver_faults),
            ("frames_not_acknowledged", self.not_acknowledged),
            ("bus_errors", self.bus_errors),
            ("bus_offs", self.bus_offs),
            ("controller_restarts", self.restarts),
            ("other_errors", self.other),
        ]
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use socketcan::CanErrorFrame;

    fn take(trouble: &mut Trouble, class: u32, data: [u8; 8]) {
        let frame = CanErrorFrame::new_error(class, &data).expect("fits");
        trouble.take(&frame.into_error());
    }

    /// **Source**: Linux `include/uapi/linux/can/error.h`: class bits in the
    /// identifier (4 controller, 8 protocol, 0x40 bus-off, 0x80 bus error, 0x100
    /// restarted, 0x200 counters), controller status in byte 1 (1 receive overflow,
    /// 4 and 8 warning, 0x10 and 0x20 passive, 0x40 active), violation in byte 2.
    #[test]
    fn reports_of_several_classes_are_counted_in_each() {
        let mut trouble = Trouble::default();
        assert_eq!(trouble.state, None);
        take(&mut trouble, 0x04, [0, 0x01, 0, 0, 0, 0, 0, 0]);
        assert_eq!(trouble.state, None, "an overflow is no state");
        take(&mut trouble, 0x04 | 0x200, [0, 0x08, 0, 0, 0, 0, 100, 0]);
        assert_eq!(trouble.state, Some(BusState::Warning));
        take(
            &mut trouble,
            0x04 | 0x08 | 0x80,
            [0, 0x10, 0x04, 0, 0, 0, 0, 130],
        );
        assert_eq!(trouble.state, Some(BusState::Passive));
        take(&mut trouble, 0x40, [0; 8]);
        assert_eq!(trouble.state, Some(BusState::Off));
        take(&mut trouble, 0x100, [0; 8]);
        take(&mut trouble, 0x04, [0, 0x40, 0, 0, 0, 0, 0, 0]);
        assert_eq!(trouble.state, Some(BusState::Active));
        let counted: Vec<_> = (trouble.named().into_iter())
            .filter(|(_, n)| *n > 0)
            .collect();
        assert_eq!(
            counted,
            [
                ("controller_overflow_reports", 1),
                ("protocol_violations", 1),
                ("bus_errors", 1),
                ("bus_offs", 1),
                ("controller_restarts", 1),
            ]
        );
        assert_eq!(trouble.of_the_bus(), 2);
    }
}
