//! Caches that cannot be used.

use super::{SETTLED, User, replayed, scratch};
use std::fs::Permissions;
use std::os::unix::fs::{PermissionsExt, symlink};
use std::path::Path;

const FULL: &str = "--full";

fn started(folder: &Path) -> (User, String) {
    let log = replayed("kinked-line", folder);
    std::thread::sleep(SETTLED);
    let user = User::new(folder);
    user.same(&["trip", "--log", &log, FULL], "first");
    (user, log)
}

#[test]
fn an_entry_damaged_anywhere_is_computed_again() {
    let folder = scratch();
    let (user, log) = started(folder.path());
    let args = ["trip", "--log", &log, FULL];
    let paths: Vec<_> = user.entries().into_keys().collect();
    assert_eq!(paths.len(), 4, "hash, digest, closed sessions and fit");
    let whole: Vec<Vec<u8>> = paths
        .iter()
        .map(|path| std::fs::read(path).expect("read"))
        .collect();
    // Of all entries at once: the beginning, the key, the checksum, the first byte of the
    // value, its middle and its end; then cut, emptied, and another entry's bytes.
    let at = |share: f64, bytes: &[u8]| ((bytes.len() - 1) as f64 * share) as usize;
    let places = [0, 15, 20, 60, 80].map(Some).into_iter();
    for place in places.chain([None]) {
        for (path, bytes) in paths.iter().zip(&whole) {
            let mut altered = bytes.clone();
            for i in place.map_or(vec![at(0.5, bytes), at(1.0, bytes)], |i| vec![i]) {
                altered[i] ^= 0x40;
            }
            std::fs::write(path, altered).expect("written");
        }
        let before = user.entries();
        user.same(&args, "damaged");
        let all_new = user.entries();
        assert!(
            paths.iter().all(|p| before[p] != all_new[p]),
            "{place:?}: believed"
        );
        user.kept(&args, "mended");
    }
    for (i, path) in paths.iter().enumerate() {
        for wrong in [&whole[i][..whole[i].len() / 2], &[], &whole[(i + 1) % 4]] {
            std::fs::write(path, wrong).expect("written");
            user.same(&args, "cut, emptied or of another key");
            user.kept(&args, "mended");
        }
    }
    for path in &paths {
        std::fs::remove_file(path).expect("deleted");
    }
    user.same(&args, "deleted");
    user.kept(&args, "made again");
}

#[test]
fn a_folder_that_cannot_be_used_changes_nothing() {
    let folder = scratch();
    let (user, log) = started(folder.path());
    let args = ["trip", "--log", &log, FULL];
    let own = user.folder();
    let mode = |mode| std::fs::set_permissions(&own, Permissions::from_mode(mode)).expect("set");
    mode(0o500);
    user.kept(&args, "read only");
    mode(0o777);
    user.same(&args, "others may write");
    mode(0o000);
    user.same(&args, "shut");
    mode(0o700);
    user.kept(&args, "opened again");
    // A link in its place is not followed, nor one in the place of an entry.
    let elsewhere = folder.path().join("elsewhere");
    std::fs::rename(&own, &elsewhere).expect("moved");
    symlink(&elsewhere, &own).expect("linked");
    let before: Vec<_> = listed(&elsewhere);
    user.same(&args, "a link");
    assert_eq!(
        listed(&elsewhere),
        before,
        "nothing was written through the link"
    );
    std::fs::remove_file(&own).expect("deleted");
    std::fs::write(&own, "a file").expect("written");
    user.same(&args, "a file");
    assert_eq!(std::fs::read(&own).expect("left alone"), b"a file");
}

#[test]
fn links_and_foreign_files_in_the_folder_are_left_alone() {
    let folder = scratch();
    let (user, log) = started(folder.path());
    let args = ["trip", "--log", &log, FULL];
    let entries: Vec<_> = user.entries().into_keys().collect();
    let target = |i: usize| folder.path().join(format!("target-{i}"));
    for (i, path) in entries.iter().enumerate() {
        std::fs::rename(path, target(i)).expect("moved");
        symlink(target(i), path).expect("linked");
    }
    let read = || -> Vec<Vec<u8>> {
        let all = (0..entries.len()).map(|i| std::fs::read(target(i)));
        all.map(|bytes| bytes.expect("read")).collect()
    };
    let before = read();
    user.same(&args, "links to entries");
    assert_eq!(read(), before, "nothing was written through a link");
    let links = entries.iter().filter(|path| path.is_symlink()).count();
    assert_eq!(links, 0, "new entries have their places");
    std::fs::write(user.folder().join("shopping.txt"), "milk").expect("written");
    user.kept(&args, "beside a foreign file");
    let left = std::fs::read(user.folder().join("shopping.txt"));
    assert_eq!(left.expect("there"), b"milk");
}

fn listed(folder: &Path) -> Vec<(String, u64)> {
    let mut all: Vec<(String, u64)> = std::fs::read_dir(folder)
        .expect("listed")
        .map(|entry| {
            let entry = entry.expect("listed");
            let size = entry.metadata().expect("there").len();
            (entry.file_name().to_string_lossy().into_owned(), size)
        })
        .collect();
    all.sort();
    all
}
