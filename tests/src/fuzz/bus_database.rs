//! DBC files: any bytes given as bus database.

use super::Target;
use seep_common::codec::dbc::Database;

pub(super) const TARGET: Target = Target {
    name: "dbc",
    run,
    words: &[
        "BO_ ",
        "SG_ ",
        " : ",
        "0|16@1+ ",
        "7|16@0- ",
        "(0.1,0) ",
        "[0|0] ",
        "\"kPa\" ",
        " X\n",
        " M ",
        " m0 ",
        "SIG_VALTYPE_ 1 A : 1;",
        "SG_MUL_VAL_ 1 A B 0-255;",
        "BA_ \"VFrameFormat\" BO_ 1 3;",
        "2566834686",
        "1e999",
        "18446744073709551615",
        "-1",
        "64",
        "CM_ \"",
        "\\\"",
    ],
    rounds: 400,
};

/// Larger files only take longer.
const MOST_BYTES: usize = 1 << 16;

fn run(data: &[u8]) {
    let data = &data[..data.len().min(MOST_BYTES)];
    let database = match Database::parse_bytes("in.dbc", data) {
        Ok(database) => database,
        Err(error) => {
            let said = error.to_string();
            assert!(said.starts_with("in.dbc: "), "{said}");
            return;
        }
    };
    for note in database.notes() {
        assert!(!note.to_string().is_empty());
    }
    for path in database.paths().take(200) {
        let found = database.find(&path).expect("a path it lists");
        for length in [0, 1, 7, 8, 64] {
            let payload: Vec<u8> = data.iter().copied().cycle().take(length).collect();
            let _ = found.signal.extract(&payload);
        }
    }
    let unknown = database.find("NO.SUCH").map(drop);
    assert!(unknown.is_ok() || !unknown.expect_err("unknown").to_string().is_empty());
}
