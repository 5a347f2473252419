//! Simple, ranged and nested multiplexing. The whole of it is compared with
//! cantools in `common/tests/signals_against_cantools.rs`.

use crate::codec::dbc::{Database, Extracted};

const TEXT: &str = "\
BO_ 100 SIMPLE: 8 X
 SG_ Page M : 0|8@1+ (1,0) [0|0] \"\" X
 SG_ A m0 : 8|8@1+ (1,0) [0|0] \"\" X
 SG_ B m1 : 8|8@1- (1,0) [0|0] \"\" X
BO_ 101 NESTED: 8 X
 SG_ Outer M : 0|4@1+ (1,0) [0|0] \"\" X
 SG_ Inner m2M : 8|4@1+ (1,0) [0|0] \"\" X
 SG_ Leaf m5 : 16|8@1+ (1,0) [0|0] \"\" X
 SG_ Wide m3 : 24|8@1+ (1,0) [0|0] \"\" X
BO_ 102 ROUND: 8 X
 SG_ P m1M : 0|4@1+ (1,0) [0|0] \"\" X
 SG_ Q m1M : 4|4@1+ (1,0) [0|0] \"\" X
BO_ 103 LOST: 8 X
 SG_ A m0 : 8|8@1+ (1,0) [0|0] \"\" X
BO_ 104 TWO: 8 X
 SG_ S M : 0|4@1+ (1,0) [0|0] \"\" X
 SG_ T M : 4|4@1+ (1,0) [0|0] \"\" X
 SG_ A m0 : 8|8@1+ (1,0) [0|0] \"\" X

SG_MUL_VAL_ 101 Inner Outer 2-2;
SG_MUL_VAL_ 101 Leaf Inner 5-5, 9-11;
SG_MUL_VAL_ 101 Wide Outer 3-7, 12-15;
SG_MUL_VAL_ 102 P Q 1-1;
SG_MUL_VAL_ 102 Q P 1-1;
";

fn extract(path: &str, data: &[u8]) -> Extracted {
    let db = Database::parse("invented.dbc", TEXT).expect("well formed");
    db.find(path).expect(path).signal.extract(data)
}

#[test]
fn one_multiplexer_opens_one_branch() {
    assert_eq!(extract("SIMPLE.A", &[0, 200]), Extracted::Value(200.0));
    assert_eq!(extract("SIMPLE.B", &[0, 200]), Extracted::OtherMultiplex);
    assert_eq!(extract("SIMPLE.B", &[1, 200]), Extracted::Value(-56.0));
    assert_eq!(extract("SIMPLE.Page", &[9]), Extracted::Value(9.0));
    assert_eq!(extract("SIMPLE.A", &[]), Extracted::TooShort);
    assert_eq!(extract("SIMPLE.A", &[0]), Extracted::TooShort);
    assert_eq!(extract("SIMPLE.A", &[1]), Extracted::OtherMultiplex);
}

#[test]
fn ranges_and_nesting_must_all_be_open() {
    let leaf = |outer, inner| extract("NESTED.Leaf", &[outer, inner, 77]);
    assert_eq!(leaf(2, 5), Extracted::Value(77.0));
    assert_eq!(leaf(2, 10), Extracted::Value(77.0));
    assert_eq!(leaf(2, 8), Extracted::OtherMultiplex);
    assert_eq!(leaf(3, 5), Extracted::OtherMultiplex, "outer closed");
    let wide = |outer| extract("NESTED.Wide", &[outer, 0, 0, 5]);
    assert_eq!(wide(3), Extracted::Value(5.0));
    assert_eq!(wide(13), Extracted::Value(5.0));
    assert_eq!(wide(8), Extracted::OtherMultiplex);
}

#[test]
fn what_cannot_be_resolved_is_said_when_asked_for() {
    let db = Database::parse("invented.dbc", TEXT).expect("well formed");
    for (path, words) in [
        ("ROUND.P", "circle"),
        ("LOST.A", "has no multiplexer"),
        ("TWO.A", "several multiplexers"),
    ] {
        let error = db.find(path).expect_err(path).to_string();
        assert!(error.contains(words), "{error}");
    }
    assert_eq!(db.notes().len(), 4, "{:?}", db.notes());
    assert!(db.find("TWO.T").is_ok());
}
