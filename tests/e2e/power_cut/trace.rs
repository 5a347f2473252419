//! What the shim noted.

use std::ops::Range;

/// A change to a file or to the folder.
#[derive(Debug, Clone)]
pub(super) enum Deed {
    Create(String),
    Write { offset: usize, data: Range<usize> },
    Truncate(usize),
    Sync,
    SyncFolder,
    Unlink(String),
    Rename(String, String),
    Link(String),
}

/// A change, when and on which inode.
#[derive(Debug, Clone)]
pub(super) struct Record {
    pub(super) at_ns: u64,
    pub(super) inode: u64,
    pub(super) name: String,
    pub(super) deed: Deed,
}

/// The whole trace; data are ranges of `bytes`.
pub(super) struct Trace {
    pub(super) bytes: Vec<u8>,
    pub(super) records: Vec<Record>,
}

impl Trace {
    pub(super) fn parse(bytes: Vec<u8>) -> Self {
        let mut records = Vec::new();
        let mut at = 0;
        while let Some(length) = bytes[at..].iter().position(|b| *b == b'\n') {
            let line = std::str::from_utf8(&bytes[at..at + length]).expect("text");
            let (record, size) = record(line, at + length + 1);
            at += length + 1 + size;
            records.push(record);
        }
        assert_eq!(at, bytes.len(), "the trace is whole");
        Trace { bytes, records }
    }

    /// The text written by a record.
    pub(super) fn text(&self, record: &Record) -> &str {
        match &record.deed {
            Deed::Write { data, .. } => {
                std::str::from_utf8(&self.bytes[data.clone()]).expect("text")
            }
            _ => "",
        }
    }
}

/// One line of the trace, and how many bytes of data follow it.
fn record(line: &str, data_at: usize) -> (Record, usize) {
    let words: Vec<&str> = line.splitn(6, ' ').collect();
    let number = |i: usize| words[i].parse::<u64>().expect("a number");
    let (offset, size) = (number(3) as usize, number(4) as usize);
    let name = words[5].to_string();
    let deed = match words[0] {
        "c" => Deed::Create(name.clone()),
        "w" => Deed::Write {
            offset,
            data: data_at..data_at + size,
        },
        "t" => Deed::Truncate(offset),
        "s" => Deed::Sync,
        "d" => Deed::SyncFolder,
        "u" => Deed::Unlink(name.clone()),
        "r" => {
            let (from, to) = name.split_once('\t').expect("two names");
            Deed::Rename(from.into(), to.into())
        }
        "l" => Deed::Link(name.split_once('\t').expect("two names").1.into()),
        other => panic!("no such deed: {other}"),
    };
    let record = Record {
        at_ns: number(1),
        inode: number(2),
        name,
        deed,
    };
    (record, size)
}
