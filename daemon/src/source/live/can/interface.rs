//! What the system says about a network interface, and about frames that never
//! reached any program.

use super::trouble::BusState;
use std::path::{Path, PathBuf};
use std::str::FromStr;

/// Kind of link of CAN interfaces, `ARPHRD_CAN` of the Linux headers.
const CAN_LINK: u32 = 280;

/// Flag of an interface that is up, `IFF_UP` of the Linux headers.
const IS_UP: u32 = 1;

/// An interface by name.
#[derive(Debug, Clone)]
pub(super) struct Interface {
    pub name: String,
    folder: PathBuf,
}

/// The interface as it is now.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct InterfaceState {
    /// Number of the interface; another one when it was taken away and came back.
    pub index: u32,
    pub is_can: bool,
    pub is_up: bool,
    /// Frames of any kind.
    pub packets: u64,
    /// Lost in the controller, which had no room.
    pub controller_overruns: u64,
    /// Lost in the controller's queue, as some drivers count it.
    pub queue_overruns: u64,
    /// Lost between driver and sockets.
    pub driver_drops: u64,
}

impl Interface {
    /// # Errors
    /// When no interface can have this name.
    pub(super) fn new(name: &str) -> Result<Self, String> {
        Self::below(Path::new("/sys/class/net"), name)
    }

    fn below(folder: &Path, name: &str) -> Result<Self, String> {
        let plain = seep_common::codec::can::InterfaceName::new(name.as_bytes()).is_some();
        if !plain || name.contains('/') || name.starts_with('.') {
            return Err(format!(
                "`{name}` is no name of an interface; correct `interface` in the rig"
            ));
        }
        Ok(Interface {
            name: name.into(),
            folder: folder.join(name),
        })
    }

    /// Look at it; `None` when it is not there.
    pub(super) fn look(&self) -> Option<InterfaceState> {
        let count = |name: &str| self.number(&format!("statistics/{name}")).unwrap_or(0);
        Some(InterfaceState {
            index: self.number("ifindex")?,
            is_can: self.number::<u32>("type")? == CAN_LINK,
            is_up: self.flags()? & IS_UP != 0,
            packets: count("rx_packets"),
            controller_overruns: count("rx_over_errors"),
            queue_overruns: count("rx_fifo_errors"),
            driver_drops: count("rx_dropped"),
        })
    }

    /// State of the bus as the driver tells it; a virtual bus has none.
    pub(super) fn bus_state(&self) -> Option<BusState> {
        let link = socketcan::CanInterface::open(&self.name).ok()?;
        link.state().ok()?.map(BusState::from)
    }

    fn number<T: FromStr>(&self, file: &str) -> Option<T> {
        let text = std::fs::read_to_string(self.folder.join(file)).ok()?;
        text.trim().parse().ok()
    }

    fn flags(&self) -> Option<u32> {
        let text = std::fs::read_to_string(self.folder.join("flags")).ok()?;
        u32::from_str_radix(text.trim().trim_start_matches("0x"), 16).ok()
    }
}

/// A count of the system that is taken over as a total of our own: it may start
/// anew with a new driver or socket.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Meter {
    last: Option<u64>,
    pub total: u64,
}

impl Meter {
    /// The count as it is now; the first look only sets the start.
    pub(super) fn read(&mut self, now: u64) {
        self.total += match self.last {
            Some(last) if now >= last => now - last,
            Some(_) => now,
            None => 0,
        };
        self.last = Some(now);
    }

    /// From here on the count starts at nothing, as that of a new socket does.
    pub(super) fn start_at_zero(&mut self) {
        self.last = Some(0);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_interface_as_the_system_describes_it() {
        let root = tempfile::tempdir().expect("room");
        let can = Interface::below(root.path(), "can0").expect("a name");
        assert_eq!(can.look(), None);
        std::fs::create_dir_all(root.path().join("can0/statistics")).expect("room");
        for (file, text) in [
            ("ifindex", "3\n"),
            ("type", "280\n"),
            ("flags", "0x40081\n"),
            ("statistics/rx_packets", "1200\n"),
            ("statistics/rx_over_errors", "4\n"),
            ("statistics/rx_fifo_errors", "0\n"),
            ("statistics/rx_dropped", "7\n"),
        ] {
            std::fs::write(root.path().join("can0").join(file), text).expect("room");
        }
        let look = can.look().expect("there");
        assert!(look.is_can && look.is_up);
        assert_eq!((look.index, look.packets), (3, 1_200));
        assert_eq!((look.controller_overruns, look.driver_drops), (4, 7));
        std::fs::write(root.path().join("can0/flags"), "0x40080\n").expect("room");
        assert!(!can.look().expect("there").is_up);
    }

    #[test]
    fn a_name_that_is_a_path_is_refused() {
        for name in ["", "..", "a/b", "can 0", "sixteen__letters"] {
            assert!(Interface::new(name).is_err(), "{name}");
        }
    }

    #[test]
    fn a_count_that_starts_anew_is_added() {
        let mut meter = Meter::default();
        for now in [100, 103, 2, 2, 5] {
            meter.read(now);
        }
        assert_eq!(meter.total, 3 + 2 + 3);
        meter.start_at_zero();
        meter.read(4);
        assert_eq!(meter.total, 12);
    }
}
