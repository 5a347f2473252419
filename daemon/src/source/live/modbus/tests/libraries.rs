//! The stations of two public libraries: pymodbus, which shares no code with
//! this program, and the server of tokio-modbus.

use super::super::super::testing::{Cable, text};
use super::{record, rig};
use std::future;
use std::io::{BufRead, BufReader, Write};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use tokio_modbus::server::{Service, rtu::Server};
use tokio_modbus::{ExceptionCode, Response, SlaveRequest};

/// Version of pymodbus that the check was written against.
const PYMODBUS: &str = "pymodbus==3.16.1";

struct Registers;

impl Service for Registers {
    type Request = SlaveRequest<'static>;
    type Response = Option<Response>;
    type Exception = ExceptionCode;
    type Future = future::Ready<Result<Self::Response, Self::Exception>>;

    fn call(&self, asked: Self::Request) -> Self::Future {
        use tokio_modbus::Request::ReadInputRegisters;
        future::ready(match asked.request {
            _ if asked.slave != 17 => Ok(None),
            ReadInputRegisters(4, 2) => Ok(Some(Response::ReadInputRegisters(vec![0x4108, 0]))),
            _ => Err(ExceptionCode::IllegalDataAddress),
        })
    }
}

#[tokio::test]
async fn the_server_of_tokio_modbus() {
    let cable = Cable::new();
    let server = Server::new_from_path(&cable.other_end, 115_200).expect("a line");
    let serving = tokio::spawn(server.serve_forever(Registers));
    let tank = (
        "tank_kpa_gauge",
        "register = 4\nnumber = \"f32\"\nunit = \"bar\"",
    );
    let corner = ("front_left_kpa_gauge", "register = 9\nnumber = \"u16\"");
    let rig = rig(&cable.one_end, "unit_id = 17", &[tank, corner]);
    let (mut receiver, tasks) = record(&rig);
    let note = receiver.note().await;
    assert!(note.contains("input register 9 (exception 2"), "{note}");
    assert_eq!(receiver.registers(&rig).await["tank_kpa_gauge"], 850.0);
    let (_, totals) = receiver.end(tasks).await;
    assert!(
        totals["answers"] >= 1 && totals["exception_answers"] >= 1,
        "{totals:?}"
    );
    serving.abort();
}

/// **Source**: pymodbus 3.16.1 encodes the numbers and speaks the protocol; the
/// values are invented.
#[tokio::test]
async fn the_station_of_pymodbus() {
    let python = match python() {
        Ok(python) => python,
        Err(why) => {
            // Past the capture of the test harness: a skipped check must be seen.
            let _ = writeln!(
                std::io::stderr(),
                "SKIPPED: Modbus against {PYMODBUS}: {why}"
            );
            return;
        }
    };
    let cable = Cable::new();
    let mut station = serve(&python, &cable.other_end);
    let rig = rig(
        &cable.one_end,
        "unit_id = 17\ntimeout_ms = 1000",
        &[
            (
                "tank_kpa_gauge",
                "register = 4\nnumber = \"f32\"\nunit = \"bar\"",
            ),
            ("front_left_kpa_gauge", "register = 6\nnumber = \"i32\""),
            ("front_right_kpa_gauge", "register = 8\nnumber = \"u16\""),
            ("rear_left_kpa_gauge", "register = 9\nnumber = \"i16\""),
            (
                "rear_right_kpa_gauge",
                "register = 100\ntable = \"holding\"\nnumber = \"u16\"",
            ),
        ],
    );
    let (mut receiver, tasks) = record(&rig);
    let found = receiver.registers(&rig).await;
    assert_eq!(found["tank_kpa_gauge"], 850.0);
    assert_eq!(found["front_left_kpa_gauge"], -123_456.0);
    assert_eq!(found["front_right_kpa_gauge"], 512.0);
    assert_eq!(found["rear_left_kpa_gauge"], -500.0);
    assert_eq!(found["rear_right_kpa_gauge"], 1_234.0);
    drop(station.stdin.take());
    station.wait().expect("it ends");
    let cause = receiver.lost().await;
    assert!(cause.contains("does not answer"), "{cause}");
    let mut station = serve(&python, &cable.other_end);
    receiver.back(&rig).await;
    assert_eq!(receiver.registers(&rig).await["tank_kpa_gauge"], 850.0);
    receiver.end(tasks).await;
    drop(station.stdin.take());
    station.wait().expect("it ends");
}

fn serve(python: &Path, device: &Path) -> Child {
    let script = concat!(
        env!("CARGO_MANIFEST_DIR"),
        "/tests/reference/modbus_station.py"
    );
    let mut station = Command::new(python)
        .args([script, &text(device), "115200"])
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn()
        .expect("python was tried before");
    let mut line = String::new();
    let said = station.stdout.take().expect("piped");
    BufReader::new(said).read_line(&mut line).expect("text");
    assert_eq!(line, "ready\n");
    station
}

/// A Python that has pymodbus: one named by `SEEP_PYTHON`, the system's, or one
/// in an environment of its own that is made on the first run.
fn python() -> Result<PathBuf, String> {
    let named = std::env::var_os("SEEP_PYTHON").map(PathBuf::from);
    let own = std::env::temp_dir().join(format!("seep-{}", PYMODBUS.replace("==", "-")));
    let in_own = own.join("bin/python3");
    for python in named.into_iter().chain(["python3".into(), in_own.clone()]) {
        if run(Command::new(&python).args(["-c", "import serial, pymodbus.simulator"])).is_ok() {
            return Ok(python);
        }
    }
    run(Command::new("python3").args(["-m", "venv"]).arg(&own))?;
    run(Command::new(&in_own).args(["-m", "pip", "install", "-q", PYMODBUS, "pyserial"]))?;
    Ok(in_own)
}

fn run(command: &mut Command) -> Result<(), String> {
    let done = command.output().map_err(|e| format!("{command:?}: {e}"))?;
    if done.status.success() {
        return Ok(());
    }
    let said = String::from_utf8_lossy(&done.stderr);
    let last = said.lines().last().unwrap_or_default();
    Err(format!("{command:?}: {last}"))
}
