//! The files of a log, and whether they are what the simulator makes.

use crate::simulate::Logs;
use std::io;
use std::path::Path;

/// Log of the bus.
pub const BUS: &str = "bus.candump.log";
/// Log of the serial line.
pub const BOX: &str = "box.nmea.log";
/// The table of a box that writes one, in place of [`BOX`].
pub const TABLE: &str = "box.csv";
/// The rig.
pub const RIG: &str = "rig.toml";
/// The answer sheet.
pub const TRUTH: &str = "truth.json";

impl Logs {
    /// Name and content of every file.
    ///
    /// # Errors
    /// Never for a truth of finite numbers; the encoder's error otherwise.
    pub fn files(&self) -> Result<[(&'static str, Vec<u8>); 4], serde_json::Error> {
        let mut truth = serde_json::to_vec_pretty(&self.truth)?;
        truth.push(b'\n');
        Ok([
            (BUS, self.candump.clone()),
            (self.box_file(), self.nmea.clone()),
            (RIG, self.rig_toml.clone().into_bytes()),
            (TRUTH, truth),
        ])
    }

    /// Name of the box's file.
    #[must_use]
    pub fn box_file(&self) -> &'static str {
        if self.nmea.starts_with(b"unix_ms,") {
            TABLE
        } else {
            BOX
        }
    }

    /// Write every file into a folder, which is made if need be.
    ///
    /// # Errors
    /// What the file system says.
    pub fn write(&self, folder: &Path) -> io::Result<()> {
        std::fs::create_dir_all(folder)?;
        for (name, content) in self.files()? {
            std::fs::write(folder.join(name), content)?;
        }
        Ok(())
    }

    /// Compare with the files of a folder: `None` when every byte agrees, else
    /// where the first difference is.
    ///
    /// # Errors
    /// What the file system says, but for files that are not there.
    pub fn first_difference(&self, folder: &Path) -> io::Result<Option<String>> {
        for (name, made) in self.files()? {
            let path = folder.join(name);
            let found = match std::fs::read(&path) {
                Ok(found) => found,
                Err(error) if error.kind() == io::ErrorKind::NotFound => {
                    return Ok(Some(format!("{} is missing", path.display())));
                }
                Err(error) => return Err(error),
            };
            if let Some((line, byte)) = difference(&made, &found) {
                return Ok(Some(format!(
                    "{}: first difference in line {line}, byte {byte} of the file",
                    path.display()
                )));
            }
        }
        Ok(None)
    }
}

/// Line (from 1) and byte (from 0) of the first difference.
fn difference(a: &[u8], b: &[u8]) -> Option<(usize, usize)> {
    let shorter = a.len().min(b.len());
    let at = (0..shorter)
        .find(|&i| a[i] != b[i])
        .or((a.len() != b.len()).then_some(shorter))?;
    let line = a[..at].iter().filter(|&&byte| byte == b'\n').count() + 1;
    Some((line, at))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_first_difference_is_found() {
        assert_eq!(difference(b"a\nb\n", b"a\nb\n"), None);
        assert_eq!(difference(b"a\nb\n", b"a\nc\n"), Some((2, 2)));
        assert_eq!(difference(b"a\nb\n", b"a\n"), Some((2, 2)));
    }
}
