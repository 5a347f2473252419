//! The clock: a battery behind it, and whether it is synchronised.

use super::{Finding, Grade, Host};
use crate::time::clock_is_synced;

pub(super) fn look(host: &Host) -> Vec<Finding> {
    let battery = host.file("/sys/class/rtc/rtc0").exists();
    let synced = if host.root == std::path::Path::new("/") {
        clock_is_synced()
    } else {
        host.file("/run/systemd/timesync/synchronized").exists()
    };
    let rtc = if battery {
        Finding::good("clock with battery", "there is one (rtc0)")
    } else {
        Finding::new(
            Grade::Weak,
            "clock with battery",
            "none: after every power-off the time starts from a guess",
            "readings are safe and in order; fit a real-time clock, or let the machine reach a time server or a satellite receiver now and then, so that dates can be corrected",
        )
    };
    let sync = match (synced, battery) {
        (true, _) => Finding::good("clock synchronised", "yes"),
        (false, true) => Finding::new(
            Grade::Weak,
            "clock synchronised",
            "no: dates are as good as the battery clock",
            "set it once, or give the machine a network now and then",
        ),
        (false, false) => Finding::new(
            Grade::Bad,
            "clock synchronised",
            "no, and no battery: dates of this boot are unknown until it is",
            "recording works all the same; the dates of the whole boot are corrected at the first synchronisation",
        ),
    };
    vec![rtc, sync]
}
