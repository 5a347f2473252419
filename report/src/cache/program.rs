//! Which build of the program this is.

use std::fs::Metadata;
use std::os::unix::fs::MetadataExt;
use std::sync::OnceLock;

/// Version and the file of the running program: any other build is another file. `None`
/// where the system does not tell.
pub(super) fn identity() -> Option<Vec<u8>> {
    static IDENTITY: OnceLock<Option<Vec<u8>>> = OnceLock::new();
    IDENTITY
        .get_or_init(|| {
            // Of the file that runs, even if another has taken its name since.
            let metadata = std::fs::metadata("/proc/self/exe").ok()?;
            Some(of_file(&metadata))
        })
        .clone()
}

fn of_file(metadata: &Metadata) -> Vec<u8> {
    let numbers = [
        metadata.dev(),
        metadata.ino(),
        metadata.len(),
        metadata.mtime().cast_unsigned(),
        metadata.mtime_nsec().cast_unsigned(),
        metadata.ctime().cast_unsigned(),
        metadata.ctime_nsec().cast_unsigned(),
    ];
    let mut out = env!("CARGO_PKG_VERSION").as_bytes().to_vec();
    out.extend(numbers.into_iter().flat_map(u64::to_le_bytes));
    out
}
