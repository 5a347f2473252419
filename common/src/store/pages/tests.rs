//! Walks over pages that are not as they should be, and the numbers in them.

use super::super::Reader;
use super::super::tick_tree::tests::closed;
use super::*;

#[test]
fn pages_that_lead_to_themselves_have_an_end() {
    let folder = tempfile::tempdir().expect("scratch");
    let path = folder.path().join("a.db");
    closed(&path, 1..200_000);
    let root = Reader::open(&path)
        .expect("opens")
        .tick_table()
        .expect("told")
        .0;
    let mut bytes = std::fs::read(&path).expect("read");
    let page_bytes = usize::from(u16::from_be_bytes([bytes[16], bytes[17]]));
    let at = (root as usize - 1) * page_bytes;
    let cells = usize::from(number16(&bytes, at + 3).expect("a head"));
    assert!(cells > 1);
    for i in 0..cells {
        let cell = at + usize::from(number16(&bytes, at + 12 + 2 * i).expect("a cell"));
        bytes[cell..cell + 4].copy_from_slice(&root.to_be_bytes());
    }
    std::fs::write(&path, bytes).expect("written");
    let pages = Pages::open(&path).expect("opens");
    assert_eq!(pages.leaves(root, i64::MIN..i64::MAX), None);
}

/// **Source**: SQLite file format, section 1.6: seven bits a byte, eight in the ninth.
#[test]
fn variable_length_integers() {
    assert_eq!(varint(&[0x00]), Some((0, 1)));
    assert_eq!(varint(&[0x7f, 9]), Some((127, 1)));
    assert_eq!(varint(&[0x81, 0x00]), Some((128, 2)));
    assert_eq!(varint(&[0x87, 0xff, 0x7f]), Some((0x1_ffff, 3)));
    assert_eq!(varint(&[0xff; 9]), Some((-1, 9)));
    assert_eq!(varint(&[0x81]), None);
    assert_eq!(varint(&[0xff; 8]), None);
}
