//! Whatever the file holds, parsing ends and does not panic.

use crate::codec::dbc::{BUILTIN_J1939_AIR, Database};
use proptest::prelude::*;

/// Pieces from which texts close to a DBC are made.
const PIECES: [&str; 26] = [
    "BO_ 1 A: 8 X\n",
    "BO_ 2566805758 B: 64 X\n",
    " SG_ a : 0|8@1+ (1,0) [0|0] \"\" X\n",
    " SG_ b M : 7|64@0- (1e300,-1e300) [0|0] \"u\" X\n",
    " SG_ c m1M : 65535|64@0- (0,0) [0|0] \"\" X\n",
    " SG_ d m18446744073709551615 : 4|4@1+ (1,0) [0|0] \"\" X\n",
    " SG_ e m : 1@1+ (1,0) [0|0] \"\" X\n",
    "SG_MUL_VAL_ 1 c b 0-18446744073709551615, 9-1;\n",
    "SG_MUL_VAL_ 1 b c 1-1;\n",
    "SIG_VALTYPE_ 1 b : 2;\n",
    "BA_DEF_ BO_ \"VFrameFormat\" ENUM \"x\";\n",
    "BA_ \"VFrameFormat\" BO_ 1 -1;\n",
    "CM_ \"",
    "\\\"",
    "\"",
    ";",
    "\r\n",
    "\0",
    "é",
    "99999999999999999999999999",
    "-",
    "NS_ :\n",
    "BU_: a b\n",
    "VAL_ 1 a 0 \"z\" ;\n",
    "EV_ x: 0 [0|1] \"\" 0 1 DUMMY_NODE_VECTOR0 X;\n",
    "VERSION \"\"\n",
];

fn survive(text: &str) {
    let text = format!("{text}\nBA_ \"ProtocolType\" \"J1939\";\n");
    if let Ok(db) = Database::parse("any.dbc", &text) {
        for path in db.paths() {
            let found = db.find(&path);
            for len in [0, 1, 7, 8, 9, 64] {
                if let Ok(found) = found {
                    let _ = found.signal.extract(&[0xA5; 64][..len]);
                }
            }
        }
    }
}

proptest! {
    #[test]
    fn any_characters(text in ".{0,200}") {
        survive(&text);
    }

    #[test]
    fn any_bytes(bytes in proptest::collection::vec(any::<u8>(), 0..300)) {
        if let Ok(db) = Database::parse_bytes("any.dbc", &bytes) {
            prop_assert!(!db.messages().is_empty());
        }
    }

    #[test]
    fn texts_close_to_a_database(pieces in proptest::collection::vec(prop::sample::select(&PIECES[..]), 0..30)) {
        survive(&pieces.concat());
    }

    #[test]
    fn a_damaged_database(at in any::<prop::sample::Index>(), remove in 0usize..20, piece in prop::sample::select(&PIECES[..])) {
        let text = BUILTIN_J1939_AIR;
        let at = at.index(text.len());
        let end = (at + remove).min(text.len());
        survive(&format!("{}{piece}{}", &text[..at], &text[end..]));
    }
}

/// The time a file takes grows with its length and no faster: 100 kB of each kind
/// of line are read here, which a reader of quadratic cost would not finish.
#[test]
fn long_files_of_one_kind_of_line() {
    for piece in PIECES {
        survive(&piece.repeat(100_000 / piece.len()));
        let header = "BO_ 1 A: 8 X\n SG_ b M : 0|8@1+ (1,0) [0|0] \"\" X\n";
        survive(&format!("{header}{}", piece.repeat(100_000 / piece.len())));
    }
}
