//! CAN interfaces of the rig: up, listening only, and without losses.

use super::{Finding, Grade, Host};
use crate::source::live::CAN_WAITING_ROOM;
use seep_common::rig::SourceKind;

/// Bit of `flags` in sysfs: the interface is up (`IFF_UP`, linux/if.h).
const IS_UP: u64 = 1;

/// Hardware type of a CAN interface (`ARPHRD_CAN`, linux/if_arp.h).
const IS_CAN: &str = "280";

/// Received error frames per good frame above which the bit rate is doubted;
/// a bus that works has next to none. Common practice, no source.
const DOUBT: f64 = 0.5;

/// Limit on the receive buffer that a program without privileges may ask for.
const RMEM_MAX: &str = "/proc/sys/net/core/rmem_max";

/// Growth of a receive buffer that nobody empties, bytes/s, under 9,000 frames/s:
/// a limit of 212,992 bytes held 555 frames (measured on Linux 6.1, tests/vm).
const BYTES_PER_S: f64 = 212_992.0 / 555.0 * 9_000.0;

pub(super) fn look(host: &Host) -> Vec<Finding> {
    let Some(rig) = host.rig else {
        return Vec::new();
    };
    let mut findings = Vec::new();
    for source in &rig.sources {
        if let SourceKind::SocketCan { interface, .. } = &source.kind {
            findings.extend(interface_of(host, interface));
        }
    }
    if !findings.is_empty() {
        findings.push(waiting_room(host));
    }
    findings
}

/// Room that the kernel grants for frames waiting for the recorder.
fn waiting_room(host: &Host) -> Finding {
    let what = "room for waiting frames";
    let granted = host
        .read(RMEM_MAX)
        .and_then(|text| text.parse::<usize>().ok());
    match granted {
        Some(bytes) if bytes >= CAN_WAITING_ROOM => {
            Finding::good(what, format!("{bytes} bytes (net.core.rmem_max)"))
        }
        Some(bytes) => Finding::new(
            Grade::Weak,
            what,
            format!(
                "net.core.rmem_max is {bytes} bytes, {:.1} % of the {CAN_WAITING_ROOM} that the recorder asks for: a full bus fills it in about {:.2} s, then frames are lost (and counted)",
                100.0 * bytes as f64 / CAN_WAITING_ROOM as f64,
                bytes as f64 / BYTES_PER_S,
            ),
            "put seepd.sysctl into /etc/sysctl.d, run `sysctl --system`, start the recorder anew",
        ),
        None => Finding::new(
            Grade::Unknown,
            what,
            format!("{RMEM_MAX} cannot be read"),
            "look at `sysctl net.core.rmem_max`",
        ),
    }
}

fn interface_of(host: &Host, name: &str) -> Vec<Finding> {
    let what = format!("bus {name}");
    let folder = format!("/sys/class/net/{name}");
    if !host.file(&folder).exists() {
        return vec![Finding::new(
            Grade::Bad,
            what,
            "no such interface",
            "look at `ip link`; the adapter's driver or overlay may be missing, or the interface has another name",
        )];
    }
    if host.read(&format!("{folder}/type")).as_deref() != Some(IS_CAN) {
        return vec![Finding::new(
            Grade::Bad,
            what,
            "is no CAN interface",
            "give the name of the CAN interface in the rig",
        )];
    }
    let up = host
        .read(&format!("{folder}/flags"))
        .and_then(|f| u64::from_str_radix(f.trim_start_matches("0x"), 16).ok())
        .is_some_and(|flags| flags & IS_UP != 0);
    if !up {
        return vec![Finding::new(
            Grade::Bad,
            what,
            "is down",
            "install 80-seep-can.network with the bus's bit rate, or `ip link set` it up",
        )];
    }
    let mut findings = counts(host, &what, &folder);
    findings.extend(controller(host, &what, name));
    if findings.is_empty() {
        findings.push(Finding::good(what, "up, no losses"));
    }
    findings
}

fn counts(host: &Host, what: &str, folder: &str) -> Vec<Finding> {
    let count = |name: &str| {
        let text = host.read(&format!("{folder}/statistics/{name}"));
        text.and_then(|t| t.parse::<u64>().ok()).unwrap_or(0)
    };
    let mut findings = Vec::new();
    let (good, bad) = (count("rx_packets"), count("rx_errors"));
    if bad > 10 && bad as f64 > DOUBT * good as f64 {
        findings.push(Finding::new(
            Grade::Bad,
            what,
            format!("{bad} errors with {good} frames: the bit rate does not match the bus"),
            "set BitRate= to the bus's own before anything else: a wrong one disturbs the vehicle",
        ));
    }
    let dropped = count("rx_dropped") + count("rx_over_errors") + count("rx_fifo_errors");
    if dropped > 0 {
        findings.push(Finding::new(
            Grade::Weak,
            what,
            format!("{dropped} frames lost before any program saw them"),
            "the bus is full or the adapter slow: use an adapter with a deeper queue; the log counts what is lost from now on",
        ));
    }
    findings
}

/// What the driver itself says; needs netlink, so only on the real machine.
fn controller(host: &Host, what: &str, name: &str) -> Vec<Finding> {
    if host.root != std::path::Path::new("/") {
        return Vec::new();
    }
    let Ok(interface) = socketcan::CanInterface::open(name) else {
        return Vec::new();
    };
    let mut findings = Vec::new();
    if let Ok(Some(modes)) = interface.ctrlmodes()
        && !modes.has_mode(socketcan::CanCtrlMode::ListenOnly)
    {
        findings.push(Finding::new(
            Grade::Weak,
            what,
            "may send (acknowledgements and error frames)",
            "set ListenOnly=yes unless another program must send on this bus, or nobody else acknowledges",
        ));
    }
    if let Ok(Some(state)) = interface.state()
        && !matches!(state, socketcan::nl::CanState::ErrorActive)
    {
        findings.push(Finding::new(
            Grade::Bad,
            what,
            format!("controller state {state:?}"),
            "check bit rate, both terminations (about 60 Ω between the wires with all off) and the wiring",
        ));
    }
    findings
}
