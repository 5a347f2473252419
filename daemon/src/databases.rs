//! The bus databases of a rig, parsed.

use seep_common::codec::dbc::Database;

/// Bus databases of each source of a rig, by its index; empty for other kinds.
#[derive(Debug, Default)]
pub(crate) struct Databases(Vec<Vec<Database>>);

impl Databases {
    /// As a test gives them.
    #[cfg(test)]
    pub(crate) fn from_lists(lists: Vec<Vec<Database>>) -> Self {
        Databases(lists)
    }

    /// Adds those of the next source.
    pub(crate) fn push(&mut self, found: Vec<Database>) {
        self.0.push(found);
    }

    /// Every database, with what is odd in it.
    pub(crate) fn all(&self) -> impl Iterator<Item = &Database> {
        self.0.iter().flatten()
    }

    /// Databases of one source.
    pub(crate) fn of(&self, source: usize) -> &[Database] {
        self.0.get(source).map_or(&[], Vec::as_slice)
    }
}
