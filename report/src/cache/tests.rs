//! The cache as its users see it.

use super::*;
use std::fs::Permissions;
use std::os::unix::fs::PermissionsExt;
use std::path::Path;

const KIND: EntryKind = EntryKind::LogHash;

#[test]
fn a_value_comes_back_bit_for_bit_and_only_under_its_key() {
    let scratch = tempfile::tempdir().expect("scratch");
    let cache = Cache::in_folder(&scratch.path().join("seep"));
    let numbers = vec![0.1 + 0.2, -0.0, f64::NAN, f64::INFINITY, 5e-324];
    cache.put(KIND, &[b"a"], &numbers);
    let found: Vec<f64> = cache.get(KIND, &[b"a"]).expect("kept");
    let bits = |n: &[f64]| n.iter().map(|v| v.to_bits()).collect::<Vec<_>>();
    assert_eq!(bits(&found), bits(&numbers));
    assert_eq!(cache.get::<Vec<f64>>(KIND, &[b"b"]), None);
    assert_eq!(Cache::none().get::<Vec<f64>>(KIND, &[b"a"]), None);
}

#[test]
fn folder_and_entries_are_private() {
    let scratch = tempfile::tempdir().expect("scratch");
    let folder = scratch.path().join("caches/seep");
    Cache::in_folder(&folder).put(KIND, &[b"a"], &1_u8);
    let mode = |path: &Path| std::fs::metadata(path).expect("there").permissions().mode() & 0o777;
    assert_eq!(mode(&folder), 0o700);
    let files: Vec<_> = std::fs::read_dir(&folder).expect("listed").collect();
    assert_eq!(files.len(), 1);
    assert_eq!(mode(&files[0].as_ref().expect("there").path()), 0o600);
}

#[test]
fn a_folder_that_others_may_write_to_and_a_link_are_not_used() {
    let scratch = tempfile::tempdir().expect("scratch");
    let open = scratch.path().join("open");
    std::fs::create_dir(&open).expect("made");
    std::fs::set_permissions(&open, Permissions::from_mode(0o777)).expect("set");
    let link = scratch.path().join("link");
    let private = scratch.path().join("private");
    Cache::in_folder(&private).put(KIND, &[b"a"], &1_u8);
    std::os::unix::fs::symlink(&private, &link).expect("linked");
    for folder in [&open, &link] {
        let cache = Cache::in_folder(folder);
        cache.put(KIND, &[b"a"], &2_u8);
        assert_eq!(cache.get::<u8>(KIND, &[b"a"]), None, "{}", folder.display());
    }
    assert_eq!(Cache::in_folder(&private).get(KIND, &[b"a"]), Some(1_u8));
    assert_eq!(std::fs::read_dir(&open).expect("listed").count(), 0);
}

#[test]
fn a_folder_that_cannot_be_made_keeps_nothing() {
    let cache = Cache::in_folder(Path::new("/dev/null/seep"));
    cache.put(KIND, &[b"a"], &1_u8);
    assert_eq!(cache.get::<u8>(KIND, &[b"a"]), None);
}

#[test]
fn programs_at_once_find_whole_values() {
    let scratch = tempfile::tempdir().expect("scratch");
    let cache = Cache::in_folder(&scratch.path().join("seep"));
    std::thread::scope(|scope| {
        for value in 0..4_u8 {
            let cache = cache.clone();
            scope.spawn(move || {
                for _ in 0..50 {
                    cache.put(KIND, &[b"a"], &vec![value; 10_000]);
                    let found: Vec<u8> = cache.get(KIND, &[b"a"]).expect("one of them");
                    assert!(found.len() == 10_000 && found.iter().all(|v| *v == found[0]));
                }
            });
        }
    });
}
