//! Told to stop while the disk fails: what is left cannot be stored, and the
//! next start writes down what is missing.

use super::bench::{Disk, EIO};
use seep_common::store::Reader;
use seep_common::time::LogMs;

#[test]
fn what_a_stop_could_not_store_is_a_gap_of_the_next_start() {
    let Some(mut disk) = Disk::new("what_a_stop_could_not_store_is_a_gap_of_the_next_start") else {
        return;
    };
    let recorder = disk.start();
    disk.device.wait_for_reader();
    disk.say(20);
    disk.wait_until_well(&recorder);
    disk.fail(&[format!("write {EIO} 1"), format!("sync {EIO} 1")]);
    disk.say(30);
    disk.wait_for_trouble();
    let (code, said) = recorder.stop();
    assert_eq!(code, 74, "{said}");
    assert!(said.contains("rows could not be stored"), "{said}");
    disk.heal();
    let stored_until = {
        let reader = Reader::open(&disk.bench.log()).expect("a log");
        let columns = reader.columns(&["tank_kpa_gauge"], LogMs::MIN, LogMs::MAX);
        *columns.expect("read").t_ms.last().expect("rows")
    };
    let again = disk.start();
    disk.device.wait_for_reader();
    disk.say(5);
    disk.wait_until_well(&again);
    assert_eq!(again.stop().0, 0);
    let reader = Reader::open(&disk.bench.log()).expect("a log");
    let sessions = reader.sessions().expect("read");
    assert_eq!(sessions.len(), 2);
    let gaps = reader.gaps(LogMs::MIN, LogMs::MAX).expect("read");
    let told = gaps
        .iter()
        .any(|g| g.from_t_ms <= LogMs(stored_until) && g.to_t_ms >= sessions[1].start.t_ms);
    assert!(told, "{gaps:?}, stored until {stored_until}");
}
