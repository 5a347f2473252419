//! On pseudo terminals: the far end garbles what it sends while the line has
//! another speed than its own, as a wire does.

use super::*;
use rustix::pty::{OpenptFlags, grantpt, openpt, ptsname, unlockpt};
use std::io::Write;
use std::time::Duration;

/// A sender at one speed; its sentences are `body` ten times a second.
fn sender(baud: u32, body: &'static str) -> String {
    let master = openpt(OpenptFlags::RDWR | OpenptFlags::NOCTTY).expect("a pseudo terminal");
    grantpt(&master).expect("granted");
    unlockpt(&master).expect("unlocked");
    let path = ptsname(&master, Vec::new()).expect("a name");
    std::thread::spawn(move || {
        let sum = seep_common::codec::nmea::checksum(body.as_bytes());
        let line = format!("${body}*{sum:02X}\r\n");
        let mut file = std::fs::File::from(master);
        loop {
            let speed = rustix::termios::tcgetattr(&file).map_or(0, |t| t.input_speed());
            let garbled = |b: &u8| if speed == baud { *b } else { b ^ 0x80 | 0x40 };
            let bytes: Vec<u8> = line.as_bytes().iter().map(garbled).collect();
            if file.write_all(&bytes).is_err() {
                return;
            }
            std::thread::sleep(Duration::from_millis(50));
        }
    });
    path.to_str().expect("text").to_string()
}

async fn until(survey: &Survey, done: impl Fn(&Heard) -> bool) -> Heard {
    for _ in 0..600 {
        let heard = survey.heard();
        if done(&heard) {
            return heard;
        }
        tokio::time::sleep(Duration::from_millis(50)).await;
    }
    panic!("half a minute in vain: {:?}", survey.heard());
}

#[tokio::test]
async fn the_speed_is_found_by_good_checksums() {
    let port = sender(9_600, "YXXDR,U,2.2841,V,TANK");
    let survey = Survey::start(&[port], &[], &Arc::default());
    let heard = until(&survey, |h| h.lines[0].sentences > 5).await;
    assert_eq!(heard.lines[0].baud, Some(9_600));
    assert_eq!(heard.lines[0].problem, None);
    assert_eq!(heard.lines[0].transducers[0].values.last, Some(2.2841));
}

/// Nine lines at once, one at each speed; the time it took is printed.
#[tokio::test]
async fn every_speed_that_is_tried_is_found() {
    let speeds = [
        2_400, 4_800, 9_600, 19_200, 38_400, 57_600, 115_200, 230_400, 460_800,
    ];
    let ports = speeds.map(|baud| sender(baud, "YXXDR,U,2.2841,V,TANK"));
    let begun = std::time::Instant::now();
    let survey = Survey::start(&ports, &[], &Arc::default());
    for (i, baud) in speeds.into_iter().enumerate() {
        let heard = until(&survey, |h| h.lines[i].sentences > 5).await;
        assert_eq!(heard.lines[i].baud, Some(baud));
        println!(
            "{baud} baud: found at most {:.1} s after the start",
            begun.elapsed().as_secs_f64()
        );
    }
}

#[tokio::test]
async fn what_cannot_be_opened_is_said() {
    let survey = Survey::start(
        &["/dev/not-there".into()],
        &["can_none".into()],
        &Arc::default(),
    );
    let heard = until(&survey, |h| {
        h.lines[0].problem.is_some() && h.buses[0].problem.is_some()
    })
    .await;
    let why = heard.lines[0].problem.as_deref().expect("said");
    assert!(why.contains("/dev/not-there"), "{why}");
}

#[test]
fn lines_are_found_by_the_name_that_stays() {
    let root = tempfile::tempdir().expect("scratch");
    let at = |path: &str| root.path().join(path);
    std::fs::create_dir_all(at("dev/serial/by-id")).expect("made");
    std::fs::create_dir_all(at("sys/class/net/can0")).expect("made");
    std::fs::create_dir_all(at("sys/class/net/eth0")).expect("made");
    for name in ["ttyUSB0", "ttyACM1", "ttyS0", "null"] {
        std::fs::write(at("dev").join(name), "").expect("made");
    }
    std::fs::write(at("sys/class/net/can0/type"), "280\n").expect("made");
    std::fs::write(at("sys/class/net/eth0/type"), "1\n").expect("made");
    std::os::unix::fs::symlink("../../ttyUSB0", at("dev/serial/by-id/usb-board-0001"))
        .expect("linked");
    let found: Vec<String> = (ports(root.path()).iter())
        .filter_map(|p| Some(p.rsplit_once('/')?.1.to_string()))
        .collect();
    assert_eq!(found, ["usb-board-0001", "ttyACM1"]);
    assert_eq!(interfaces(root.path()), ["can0"]);
}
