//! The folder: private, and our own.

use std::fs::{DirBuilder, Metadata};
use std::os::unix::fs::{DirBuilderExt, MetadataExt};
use std::path::{Path, PathBuf};

/// Name of the program's folder among the user's caches.
const OWN: &str = "seep";

/// Where this user's cache is, by the environment.
pub(crate) fn folder_of_this_user() -> Option<PathBuf> {
    let of = |name: &str| {
        let path = PathBuf::from(std::env::var_os(name)?);
        path.is_absolute().then_some(path)
    };
    let caches = of("XDG_CACHE_HOME").or_else(|| of("HOME").map(|home| home.join(".cache")))?;
    Some(caches.join(OWN))
}

/// The folder where it is there and nobody else may write to it.
pub(super) fn ready(folder: &Path) -> Option<PathBuf> {
    let metadata = std::fs::symlink_metadata(folder).ok()?;
    let private = metadata.mode() & 0o077 == 0;
    (metadata.is_dir() && private && is_own(&metadata)).then(|| folder.to_path_buf())
}

/// The same, made if it is missing.
pub(super) fn made(folder: &Path) -> Option<PathBuf> {
    if std::fs::symlink_metadata(folder).is_err() {
        let mut builder = DirBuilder::new();
        builder.mode(0o700).recursive(true).create(folder).ok()?;
    }
    ready(folder)
}

/// Whether it belongs to the user who runs this program.
pub(super) fn is_own(metadata: &Metadata) -> bool {
    metadata.uid() == rustix::process::geteuid().as_raw()
}
