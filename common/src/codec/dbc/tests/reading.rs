//! Reading databases: errors, odd files, how messages are matched.

use crate::codec::dbc::{Database, DbcError, Extracted, FindError, MOST_DBC_BYTES};

fn message(number: u64, body: &str) -> String {
    format!("BO_ {number} BOX: 8 X\n {body}\n")
}

#[test]
fn numbers_of_every_kind() {
    let text = message(
        1,
        "SG_ U : 0|8@1+ (0.5,-3) [0|0] \"\" X\n SG_ S : 8|12@1- (1,0) [0|0] \"\" X\n \
         SG_ B : 7|16@0- (1,0) [0|0] \"\" X\n SG_ F : 0|32@1- (2,1) [0|0] \"\" X\n \
         SG_ D : 0|64@1- (1,0) [0|0] \"\" X\n",
    ) + "SIG_VALTYPE_ 1 F : 1;\nSIG_VALTYPE_ 1 D : 2;\n";
    let db = Database::parse("invented.dbc", &text).expect("well formed");
    let extract = |name: &str, data: &[u8]| {
        let path = format!("BOX.{name}");
        db.find(&path).expect("there").signal.extract(data)
    };
    assert_eq!(extract("U", &[200]), Extracted::Value(97.0));
    assert_eq!(extract("S", &[0, 0xFF, 0x0F]), Extracted::Value(-1.0));
    assert_eq!(extract("B", &[0x80, 0x01]), Extracted::Value(-32_767.0));
    assert_eq!(extract("F", &1.5f32.to_le_bytes()), Extracted::Value(4.0));
    assert_eq!(extract("F", &f32::NAN.to_le_bytes()), Extracted::NotFinite);
    let d = f64::MIN_POSITIVE;
    assert_eq!(extract("D", &d.to_le_bytes()), Extracted::Value(d));
    assert_eq!(
        extract("D", &f64::INFINITY.to_le_bytes()),
        Extracted::NotFinite
    );
    assert_eq!(extract("D", &[0; 7]), Extracted::TooShort);
}

#[test]
fn syntax_errors_name_line_column_and_text() {
    let error = Database::parse("a.dbc", "VERSION \"\"\n\nBO_ x BOX: 8 X\n").expect_err("bad");
    let DbcError::Syntax {
        line,
        column,
        found,
        ..
    } = error
    else {
        panic!("{error:?}");
    };
    assert_eq!((line, column, found.as_str()), (3, 5, "x BOX: 8 X"));
    assert!(matches!(
        Database::parse("a.dbc", "VERSION \"\"\n"),
        Err(DbcError::NoMessages { .. })
    ));
    assert!(matches!(
        Database::parse("a.dbc", &message(99_999_999_999, "")),
        Err(DbcError::Value { .. })
    ));
    let huge = " ".repeat(MOST_DBC_BYTES + 1);
    assert!(matches!(
        Database::parse("a.dbc", &huge),
        Err(DbcError::TooLarge { .. })
    ));
}

#[test]
fn odd_parts_that_are_not_needed_are_left_out_with_a_note() {
    let text =
        message(1, "SG_ A : 0|8@1+ (1,0) [0|0] \"\" X") + "\nBA_DEF_SGTYPE_ strange 1 2 3;\n";
    let db = Database::parse("a.dbc", &text).expect("the message is fine");
    assert_eq!(db.notes().len(), 1);
    assert_eq!(db.notes()[0].line, 4);
    assert!(db.find("BOX.A").is_ok());
}

#[test]
fn undecodable_signals_do_not_stop_the_others() {
    let text = message(
        1,
        "SG_ Ok : 0|8@1+ (1,0) [0|0] \"\" X\n SG_ None : 0|0@1+ (1,0) [0|0] \"\" X\n \
         SG_ Long : 0|65@1+ (1,0) [0|0] \"\" X\n SG_ Out : 60|8@1+ (1,0) [0|0] \"\" X\n \
         SG_ Half : 0|16@1- (1,0) [0|0] \"\" X\n SG_ Same : 4|8@1+ (1,0) [0|0] \"\" X",
    ) + "SIG_VALTYPE_ 1 Half : 1;\n";
    let db = Database::parse("a.dbc", &text).expect("readable");
    for (path, line, words) in [
        ("BOX.None", 3, "0 bits from bit 0"),
        ("BOX.Long", 4, "65 bits"),
        ("BOX.Out", 5, "needs 9 bytes and the message has 8"),
        ("BOX.Half", 6, "floating-point value of 16 bits"),
    ] {
        match db.find(path).expect_err(path) {
            FindError::Unusable {
                line: at, problem, ..
            } => {
                assert_eq!(at, line, "{path}");
                assert!(problem.to_string().contains(words), "{problem}");
            }
            other => panic!("{path}: {other}"),
        }
    }
    assert!(db.find("BOX.Ok").is_ok());
    let overlap = db
        .notes()
        .last()
        .expect("a note on the overlap")
        .to_string();
    assert_eq!(
        overlap,
        "line 7: `BOX.Same` overlaps `BOX.Ok`; both are decoded as written"
    );
}

#[test]
fn impossible_identifiers_are_not_cut_to_fit() {
    for number in [0x800, 0x1_0123, 0xC000_0000u64] {
        let text = message(number, "SG_ A : 0|8@1+ (1,0) [0|0] \"\" X");
        let db = Database::parse("a.dbc", &text).expect("readable");
        let error = db
            .find("BOX.A")
            .expect_err("no such identifier")
            .to_string();
        assert!(error.contains("neither an 11 bit identifier"), "{error}");
    }
}

#[test]
fn names_are_suggested() {
    let text = message(1, "SG_ Tank : 0|8@1+ (1,0) [0|0] \"\" X");
    let db = Database::parse("a.dbc", &text).expect("readable");
    let error = |path| db.find(path).expect_err("unknown").to_string();
    assert_eq!(
        error("box.tank"),
        "a.dbc has no signal `box.tank`; did you mean `BOX.Tank`?"
    );
    assert!(error("Tank").contains("such as `BOX.Tank`"));
    assert!(error("ENGINE.Speed").contains("no name in it is near"));
}

#[test]
fn matching_by_group_is_declared_or_asked_for() {
    let id = 0x98FE_58FEu64;
    let body = message(id, "SG_ A : 0|16@1+ (1,0) [0|0] \"\" X");
    let names = "BA_DEF_ BO_ \"VFrameFormat\" ENUM \"StandardCAN\",\"ExtendedCAN\",\"reserved\",\"J1939PG\";\n";
    let as_declared = |extra: &str| {
        let db = Database::parse("a.dbc", &format!("{body}{extra}")).expect("readable");
        db.messages()[0].by_group
    };
    assert!(!as_declared(""));
    assert!(as_declared(&format!(
        "{names}BA_ \"VFrameFormat\" BO_ {id} 3;\n"
    )));
    assert!(!as_declared(&format!(
        "{names}BA_ \"VFrameFormat\" BO_ {id} 1;\n"
    )));
    assert!(as_declared(&format!(
        "{names}BA_DEF_DEF_ \"VFrameFormat\" \"J1939PG\";\n"
    )));
    assert!(as_declared("BA_ \"ProtocolType\" \"J1939\";\n"));
    assert!(!as_declared(&format!(
        "{names}BA_ \"ProtocolType\" \"J1939\";\nBA_ \"VFrameFormat\" BO_ {id} 1;\n"
    )));
    let of_protocol = |protocol: &str| {
        let text = format!("{body}BA_ \"ProtocolType\" \"{protocol}\";\n");
        let db = Database::parse("a.dbc", &text).expect("readable");
        let signal = db.find("BOX.A").expect("there").signal.extract(&[0, 0xFF]);
        (db.messages()[0].matches(0x0CFE_5800, true), signal)
    };
    let (matches, outcome) = of_protocol("J1939");
    assert!(matches && matches!(outcome, Extracted::Special(_)));
    let (matches, outcome) = of_protocol("CAN");
    assert!(!matches);
    assert_eq!(outcome, Extracted::Value(65_280.0));
}

#[test]
fn messages_of_several_frames_are_refused_by_name() {
    let body = "BO_ 2566832638 TTI2: 20 X\n SG_ OnTime : 128|32@1+ (0.05,0) [0|0] \"h\" X\n\
        BA_ \"ProtocolType\" \"J1939\";\n";
    let db = Database::parse("a.dbc", body).expect("readable");
    let error = db.find("TTI2.OnTime").expect_err("20 bytes").to_string();
    assert!(
        error.contains("20 bytes and comes in several frames"),
        "{error}"
    );
}

#[test]
fn western_european_files_are_read() {
    let mut bytes = b"BO_ 1 BOX: 8 X\n SG_ T : 0|8@1+ (1,0) [0|0] \"\xB0C\" X\n".to_vec();
    let db = Database::parse_bytes("a.dbc", &bytes).expect("readable");
    assert_eq!(db.find("BOX.T").expect("there").signal.unit, "°C");
    bytes.resize(MOST_DBC_BYTES + 1, b' ');
    assert!(Database::parse_bytes("a.dbc", &bytes).is_err());
}
