// Writes one small log with the store of the version it is compiled with; see
// README.md beside it. Readings follow tests/src/pattern.rs. All invented.
use seep_common::rig::Rig;
use seep_common::store::*;
use seep_common::tick::Tick;

const CHANNELS: [&str; 3] = ["tank_kpa_gauge", "front_left_kpa_gauge", "front_right_kpa_gauge"];

fn main() {
    let path = std::env::args().nth(1).expect("the file to write");
    let mut text = String::from(
        "[vehicle]\nname = \"invented\"\n[[circuit]]\nname = \"front_left\"\n\
         [[circuit]]\nname = \"front_right\"\n[[source]]\nname = \"box\"\nkind = \"nmea\"\n",
    );
    for (i, name) in CHANNELS.iter().enumerate() {
        text += &format!("[[channel]]\nname = \"{name}\"\nsource = \"box\"\ntransducer = \"T{i}\"\n");
    }
    let rig = Rig::parse(&text).expect("a valid rig");
    let mut writer = Writer::create(std::path::Path::new(&path)).expect("created");
    for (boot, start_ms) in [("boot-1", 10_000), ("boot-2", 400_000)] {
        let start = SessionStart {
            boot_id: boot.into(),
            t_ms: start_ms,
            program: "seepd of its time".into(),
            origin: "live".into(),
            /* since schema 2:  start_boot_ms: Some(5_000), */
        };
        let session = writer.begin_session(&start, &rig).expect("session");
        for commit in 0..100 {
            let from_ms = start_ms + commit * 2_000;
            let mut batch = Batch::default();
            for t_ms in (from_ms..from_ms + 2_000).step_by(100) {
                let count = |c: i64| Some((t_ms / 100 * (7 + 2 * c)) % 997);
                batch.ticks.push(Tick { t_ms, counts: (0..3).map(count).collect() });
            }
            batch.counters.push(Counter { t_ms: from_ms, name: "ticks".into(), source: "box".into(), count: 20 });
            batch.events.push(Event {
                t_ms: from_ms,
                kind: EventKind::Run,
                place: "compressor_1".into(),
                on: commit % 2 == 0,
                wired: true,
            });
            if commit == 0 {
                batch.clock.push(ClockRow {
                    noted_t_ms: from_ms,
                    from_t_ms: from_ms,
                    offset_ms: 1_754_820_000_000,
                    state: ClockState::Synced,
                });
                batch.gaps.push(Gap {
                    from_t_ms: from_ms,
                    to_t_ms: from_ms + 100,
                    cause: "source silent".into(),
                    what: Some("box".into()),
                });
            }
            /* since schema 2:
            if commit == 0 {
                batch.notices.push(Notice { t_ms: from_ms, source: None, text: "invented".into() });
            } */
            writer.append(session, &batch).expect("stored");
        }
        // The second session loses its power: its end is never noted.
        if boot == "boot-1" {
            writer.end_session(session, 210_000, EndReason::Stopped).expect("ended");
        }
    }
    writer.close().expect("closed");
}
