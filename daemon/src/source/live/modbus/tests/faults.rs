//! What goes wrong between a station and its master.

use super::super::super::testing::TestLine;
use super::script::{serve, with_crc, words};
use super::{record, rig};
use std::time::Duration;

const TANK: (&str, &str) = (
    "tank_kpa_gauge",
    "register = 107\ntable = \"holding\"\nnumber = \"u16\"",
);

/// **Source**: the worked example of reading holding registers in the Modbus
/// Application Protocol V1.1b3, 6.3 (registers 108 to 110 hold 0x022B, 0 and
/// 0x0064), with the checksums of the common RTU form of it for station 0x11:
/// 11 03 006B 0003 76 87 and 11 03 06 022B 0000 0064 C8 BA.
#[tokio::test]
async fn the_worked_example_of_the_standard() {
    let mut line = TestLine::new();
    line.plug();
    let asked = serve(line.far_end(), |_, _| {
        vec![
            0x11, 0x03, 0x06, 0x02, 0x2B, 0x00, 0x00, 0x00, 0x64, 0xC8, 0xBA,
        ]
    });
    let rig = rig(
        &line.path(),
        "unit_id = 17",
        &[
            TANK,
            (
                "front_left_kpa_gauge",
                "register = 108\ntable = \"holding\"\nnumber = \"u16\"",
            ),
            (
                "front_right_kpa_gauge",
                "register = 109\ntable = \"holding\"\nnumber = \"u16\"",
            ),
        ],
    );
    let (mut receiver, tasks) = record(&rig);
    let found = receiver.registers(&rig).await;
    assert_eq!(found["tank_kpa_gauge"], 555.0);
    assert_eq!(found["front_left_kpa_gauge"], 0.0);
    assert_eq!(found["front_right_kpa_gauge"], 100.0);
    let question = asked.lock().expect("no fault")[0].clone();
    assert_eq!(question, [0x11, 0x03, 0x00, 0x6B, 0x00, 0x03, 0x76, 0x87]);
    receiver.end(tasks).await;
}

#[tokio::test]
async fn a_silent_station_is_lost_and_comes_back_by_itself() {
    let mut line = TestLine::new();
    line.plug();
    let _asked = serve(line.far_end(), |n, _| match n {
        0 | 5.. => words(17, 3, &[850 + n as u16]),
        _ => Vec::new(),
    });
    let rig = rig(&line.path(), "unit_id = 17\ntimeout_ms = 300", &[TANK]);
    let (mut receiver, tasks) = record(&rig);
    assert_eq!(receiver.registers(&rig).await["tank_kpa_gauge"], 850.0);
    let cause = receiver.lost().await;
    assert!(
        cause.contains("station 17") && cause.contains("does not answer"),
        "{cause}"
    );
    receiver.back(&rig).await;
    assert_eq!(receiver.registers(&rig).await["tank_kpa_gauge"], 855.0);
    let (_, totals) = receiver.end(tasks).await;
    assert_eq!(totals["questions_without_answer"], 4);
}

#[tokio::test]
async fn a_damaged_answer_is_asked_for_again() {
    let mut line = TestLine::new();
    line.plug();
    let _asked = serve(line.far_end(), |n, _| {
        let mut answer = words(17, 3, &[600 + n as u16]);
        if n == 1 {
            answer[4] ^= 0x10;
        }
        answer
    });
    let rig = rig(&line.path(), "unit_id = 17\ntimeout_ms = 300", &[TANK]);
    let (mut receiver, tasks) = record(&rig);
    let mut found = Vec::new();
    for _ in 0..3 {
        found.push(receiver.registers(&rig).await["tank_kpa_gauge"]);
    }
    assert_eq!(found, [600.0, 602.0, 603.0]);
    let (_, totals) = receiver.end(tasks).await;
    let damaged = totals.get("damaged_answers").copied().unwrap_or(0);
    let unanswered = totals.get("questions_without_answer").copied().unwrap_or(0);
    assert_eq!(damaged + unanswered, 1, "{totals:?}");
}

/// Two blocks of one register each: the protocol does not say which question an
/// answer belongs to, so a late answer must never count as the next one.
#[tokio::test]
async fn an_answer_that_comes_late_belongs_to_no_later_question() {
    let mut line = TestLine::new();
    line.plug();
    let mut late = line.far_end();
    let _asked = serve(line.far_end(), move |n, question| {
        let answer = words(17, 3, &[if question[3] == 107 { 850 } else { 500 }]);
        if n != 2 {
            return answer;
        }
        std::thread::sleep(Duration::from_millis(450));
        std::io::Write::write_all(&mut late, &answer).expect("room");
        Vec::new()
    });
    let corner = (
        "front_left_kpa_gauge",
        "register = 120\ntable = \"holding\"\nnumber = \"u16\"",
    );
    let rig = rig(
        &line.path(),
        "unit_id = 17\ntimeout_ms = 300",
        &[TANK, corner],
    );
    let (mut receiver, tasks) = record(&rig);
    for _ in 0..6 {
        let found = receiver.registers(&rig).await;
        assert_eq!(found.get("tank_kpa_gauge").copied().unwrap_or(850.0), 850.0);
        assert_eq!(
            found.get("front_left_kpa_gauge").copied().unwrap_or(500.0),
            500.0
        );
    }
    let (_, totals) = receiver.end(tasks).await;
    assert_eq!(totals["unasked_bytes"], 7, "{totals:?}");
    assert_eq!(totals["questions_without_answer"], 1);
}

#[tokio::test]
async fn answers_of_another_station_or_of_another_length_are_not_used() {
    let mut line = TestLine::new();
    line.plug();
    let _asked = serve(line.far_end(), |n, _| match n {
        0 => words(18, 3, &[1]),
        1 => words(17, 3, &[2, 2]),
        2 => words(17, 4, &[3]),
        _ => words(17, 3, &[700]),
    });
    let rig = rig(&line.path(), "unit_id = 17\ntimeout_ms = 300", &[TANK]);
    let (mut receiver, tasks) = record(&rig);
    let cause = receiver.lost().await;
    assert!(cause.contains("do not belong to the questions"), "{cause}");
    receiver.back(&rig).await;
    assert_eq!(receiver.registers(&rig).await["tank_kpa_gauge"], 700.0);
    assert_eq!(receiver.end(tasks).await.1["answers_to_something_else"], 3);
}

#[tokio::test]
async fn a_refusal_is_noted_once_and_the_other_registers_are_read() {
    let mut line = TestLine::new();
    line.plug();
    let _asked = serve(line.far_end(), |_, question| match question[3] {
        107 => with_crc(&[17, 0x83, 2]),
        _ => words(17, 3, &[500]),
    });
    let corner = (
        "front_left_kpa_gauge",
        "register = 120\ntable = \"holding\"\nnumber = \"u16\"",
    );
    let rig = rig(&line.path(), "unit_id = 17", &[TANK, corner]);
    let (mut receiver, tasks) = record(&rig);
    assert_eq!(
        receiver.note().await,
        "station 17 refuses holding register 107 (exception 2, illegal data address); \
         correct `register` and `table`"
    );
    for _ in 0..3 {
        let found = receiver.registers(&rig).await;
        assert_eq!(found.len(), 1);
        assert_eq!(found["front_left_kpa_gauge"], 500.0);
    }
    let (_, totals) = receiver.end(tasks).await;
    assert!(totals["exception_answers"] >= 3, "{totals:?}");
}

#[tokio::test]
async fn unplugged_and_plugged_in_again() {
    let mut line = TestLine::new();
    let rig = rig(&line.path(), "unit_id = 17\ntimeout_ms = 300", &[TANK]);
    let (mut receiver, tasks) = record(&rig);
    for n in 0..5u16 {
        let cause = receiver.lost().await;
        assert!(cause.contains("unplugged"), "{cause}");
        line.plug();
        let far_end = line.far_end();
        let asked = serve(far_end, move |_, _| words(17, 3, &[600 + n]));
        receiver.back(&rig).await;
        assert_eq!(
            receiver.registers(&rig).await["tank_kpa_gauge"],
            f64::from(600 + n)
        );
        drop(asked);
        line.unplug();
    }
    let cause = receiver.lost().await;
    assert!(cause.contains("unplugged"), "{cause}");
    assert_eq!(receiver.end(tasks).await.1["reopened"], 4);
}

/// What waits when a line is opened may be the answer to a question of a recorder
/// that was killed: whole, of the right station, and old.
#[tokio::test]
async fn an_answer_that_waits_when_the_line_is_opened_is_not_taken() {
    let mut line = TestLine::new();
    line.plug();
    line.send(&words(17, 3, &[111]));
    let _asked = serve(line.far_end(), |n, _| words(17, 3, &[850 + n as u16]));
    let rig = rig(&line.path(), "unit_id = 17", &[TANK]);
    let (mut receiver, tasks) = record(&rig);
    assert_eq!(receiver.registers(&rig).await["tank_kpa_gauge"], 850.0);
    let (_, totals) = receiver.end(tasks).await;
    assert_eq!(totals["unasked_bytes"], 7);
}
