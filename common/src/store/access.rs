//! Who may read a log, in words for somebody who may not.

use super::StoreError;
use std::fs::Metadata;
use std::os::unix::fs::MetadataExt;
use std::path::Path;

/// Bits of a mode that let a group read a file, or look into a folder.
const GROUP_READS: u32 = 0o040;
const GROUP_ENTERS: u32 = 0o010;

/// The error for a log that this user may not read: whom it is for.
pub(super) fn not_allowed(path: &Path) -> StoreError {
    StoreError::NotAllowed {
        path: path.into(),
        allowed: who_may_read(path),
    }
}

/// Who may read a file, and how to become one of them or get a copy: for the
/// error of a user who may not. Looks at the file system only.
#[must_use]
pub fn who_may_read(path: &Path) -> String {
    // What stands in the way is the file, or the deepest folder in sight.
    let barrier = path.ancestors().find_map(|p| std::fs::metadata(p).ok());
    let Some(barrier) = barrier else {
        return "ask the owner of its folder".into();
    };
    let needed = if barrier.is_dir() {
        GROUP_ENTERS
    } else {
        GROUP_READS
    };
    if barrier.mode() & needed == 0 {
        return "only its owner may; ask for a copy made by `seepd snapshot`".into();
    }
    let group = group_name(&barrier);
    format!(
        "members of the group `{group}` may: `sudo usermod -aG {group} NAME`, then log in anew; or ask one of them for a copy made by `seepd snapshot`"
    )
}

/// The group's name, or its number when it has none here.
fn group_name(of: &Metadata) -> String {
    let number = of.gid().to_string();
    let groups = std::fs::read_to_string("/etc/group").unwrap_or_default();
    let name = groups.lines().find_map(|line| {
        let mut fields = line.split(':');
        let (name, _, id) = (fields.next()?, fields.next()?, fields.next()?);
        (id == number).then(|| name.to_string())
    });
    name.unwrap_or(number)
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::os::unix::fs::PermissionsExt;

    #[test]
    fn the_group_that_may_read_is_named_and_a_private_file_says_so() {
        let folder = tempfile::tempdir().expect("scratch");
        let path = folder.path().join("trip.db");
        std::fs::write(&path, "").expect("written");
        let mode = |mode| {
            std::fs::set_permissions(&path, std::fs::Permissions::from_mode(mode)).expect("set");
            who_may_read(&path)
        };
        let group = group_name(&std::fs::metadata(&path).expect("there"));
        assert!(mode(0o640).contains(&format!("usermod -aG {group} NAME")));
        assert!(mode(0o600).contains("only its owner"));
        // A file out of sight: its folder stands in the way.
        let private = Path::new("/proc/1/root/no/such.db");
        assert!(not_allowed(private).to_string().contains("may not read it"));
    }

    #[test]
    fn the_group_of_the_machines_owner_has_a_name() {
        let root = std::fs::metadata("/").expect("there");
        assert_eq!((root.gid(), group_name(&root).as_str()), (0, "root"));
    }
}
