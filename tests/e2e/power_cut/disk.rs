//! A disk with a cache: what is surely on it, and what may be.

use super::trace::{Deed, Record, Trace};
use seep_tests::seeded::Seeded;
use std::collections::{BTreeMap, HashMap};
use std::ops::Range;

const SECTOR: usize = 512;

/// What a power cut does to changes that were not synced.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Loss {
    /// All of them are lost, file names too.
    All,
    /// Each sector of each write is kept with probability one half; so is each
    /// truncation. Of the changes to names a prefix is kept, as a journal does.
    Sectors,
    /// They reach the disk in any order, those of one file and those of all:
    /// a random part of the whole writes is there, whatever their order, and
    /// each change to a name by itself.
    Reordered,
}

pub(super) const LOSSES: [Loss; 3] = [Loss::All, Loss::Sectors, Loss::Reordered];

/// The disk at one moment of a trace.
#[derive(Default)]
pub(super) struct Disk {
    files: Vec<File>,
    by_inode: HashMap<u64, usize>,
    names: BTreeMap<String, usize>,
    pending_names: Vec<Name>,
}

#[derive(Default)]
struct File {
    synced: Vec<u8>,
    pending: Vec<Change>,
}

#[derive(Clone)]
enum Change {
    Write(usize, Range<usize>),
    Truncate(usize),
}

#[derive(Clone)]
enum Name {
    Create(String, usize),
    Unlink(String),
    Rename(String, String),
    Link(String, usize),
}

impl Disk {
    /// One more change happened.
    pub(super) fn apply(&mut self, trace: &Trace, record: &Record) {
        match &record.deed {
            Deed::Create(name) => {
                self.by_inode.insert(record.inode, self.files.len());
                let made = Name::Create(name.clone(), self.files.len());
                self.pending_names.push(made);
                self.files.push(File::default());
            }
            Deed::Write { offset, data } => {
                let change = Change::Write(*offset, data.clone());
                self.file(record).pending.push(change);
            }
            Deed::Truncate(length) => self.file(record).pending.push(Change::Truncate(*length)),
            Deed::Sync => {
                let file = self.file(record);
                for change in std::mem::take(&mut file.pending) {
                    change.apply(&mut file.synced, &trace.bytes, &mut || true);
                }
            }
            Deed::SyncFolder => {
                for name in std::mem::take(&mut self.pending_names) {
                    name.apply(&mut self.names);
                }
            }
            Deed::Unlink(name) => self.pending_names.push(Name::Unlink(name.clone())),
            Deed::Rename(from, to) => {
                let renamed = Name::Rename(from.clone(), to.clone());
                self.pending_names.push(renamed);
            }
            Deed::Link(to) => {
                let id = self.by_inode[&record.inode];
                self.pending_names.push(Name::Link(to.clone(), id));
            }
        }
    }

    fn file(&mut self, record: &Record) -> &mut File {
        &mut self.files[self.by_inode[&record.inode]]
    }

    /// The folder after the power went at this moment: name and content.
    pub(super) fn after_cut(
        &self,
        trace: &Trace,
        loss: Loss,
        random: &mut Seeded,
    ) -> BTreeMap<String, Vec<u8>> {
        let mut names = self.names.clone();
        let prefix = random.below(self.pending_names.len() + 1);
        for (i, name) in self.pending_names.iter().enumerate() {
            let kept = match loss {
                Loss::All => false,
                Loss::Sectors => i < prefix,
                Loss::Reordered => random.below(2) == 0,
            };
            if kept {
                name.clone().apply(&mut names);
            }
        }
        names
            .into_iter()
            .map(|(name, id)| (name, self.files[id].after_cut(trace, loss, random)))
            .collect()
    }
}

impl File {
    fn after_cut(&self, trace: &Trace, loss: Loss, random: &mut Seeded) -> Vec<u8> {
        let mut bytes = self.synced.clone();
        // Where two of them touch one sector the later one wins, as in a cache.
        let share = random.below(101);
        for change in &self.pending {
            let kept = match loss {
                Loss::All => false,
                Loss::Sectors => true,
                Loss::Reordered => random.below(100) < share,
            };
            if kept {
                let mut coin = || loss != Loss::Sectors || random.below(2) == 0;
                change.clone().apply(&mut bytes, &trace.bytes, &mut coin);
            }
        }
        bytes
    }
}

impl Change {
    fn apply(self, file: &mut Vec<u8>, trace: &[u8], kept: &mut dyn FnMut() -> bool) {
        match self {
            Change::Truncate(length) => {
                if kept() {
                    file.resize(length, 0);
                }
            }
            Change::Write(offset, data) => {
                let mut at = offset;
                let mut rest = &trace[data];
                while !rest.is_empty() {
                    let here = (SECTOR - at % SECTOR).min(rest.len());
                    if kept() {
                        if file.len() < at + here {
                            file.resize(at + here, 0);
                        }
                        file[at..at + here].copy_from_slice(&rest[..here]);
                    }
                    at += here;
                    rest = &rest[here..];
                }
            }
        }
    }
}

impl Name {
    fn apply(self, names: &mut BTreeMap<String, usize>) {
        match self {
            Name::Create(name, id) | Name::Link(name, id) => {
                names.insert(name, id);
            }
            Name::Unlink(name) => {
                names.remove(&name);
            }
            Name::Rename(from, to) => {
                if let Some(id) = names.remove(&from) {
                    names.insert(to, id);
                }
            }
        }
    }
}
