use super::*;

fn names(folder: &Path) -> Vec<String> {
    let mut names: Vec<_> = std::fs::read_dir(folder)
        .expect("lists")
        .map(|e| e.expect("entry").file_name().to_string_lossy().into_owned())
        .collect();
    names.sort();
    names
}

fn write(text: &str) -> impl FnOnce(&Path) -> Result<(), StoreError> {
    move |part| std::fs::write(part, text).doing(part, "writing")
}

#[test]
fn until_it_is_whole_the_name_is_free() {
    let folder = tempfile::tempdir().expect("folder");
    let to = folder.path().join("copy.db");
    make_whole(&to, "copying", |part| {
        assert!(!to.exists() && part.exists());
        write("whole")(part)
    })
    .expect("made");
    assert_eq!(names(folder.path()), ["copy.db"]);
    assert_eq!(std::fs::read(&to).expect("there"), b"whole");
}

#[test]
fn a_name_taken_before_or_meanwhile_is_left_alone() {
    let folder = tempfile::tempdir().expect("folder");
    let to = folder.path().join("copy.db");
    let done = make_whole(&to, "copying", |part| {
        std::fs::write(&to, "theirs").expect("written");
        write("ours")(part)
    });
    assert!(matches!(done, Err(StoreError::Exists { .. })), "{done:?}");
    let again = make_whole(&to, "copying", write("ours"));
    assert!(matches!(again, Err(StoreError::Exists { .. })));
    assert_eq!(names(folder.path()), ["copy.db"]);
    assert_eq!(std::fs::read(&to).expect("there"), b"theirs");
}

#[test]
fn a_failure_leaves_nothing() {
    let folder = tempfile::tempdir().expect("folder");
    let to = folder.path().join("copy.db");
    let done: Result<(), _> = make_whole(&to, "copying", |part| {
        write("half")(part)?;
        Err(io::Error::other("no more space")).doing(part, "copying")
    });
    assert!(done.is_err());
    assert_eq!(names(folder.path()), [""; 0]);
}

#[test]
fn leftovers_of_a_power_cut_go_and_what_is_being_made_stays() {
    let folder = tempfile::tempdir().expect("folder");
    let to = folder.path().join("copy.db");
    for left in [
        "copy.db.part-1-0",
        "copy.db.part-1-0-journal",
        "other.db.part-1-0",
    ] {
        std::fs::write(folder.path().join(left), "half").expect("written");
    }
    make_whole(&to, "copying", |mine| {
        // Another one begins meanwhile: it must not take this one away.
        remove_leftovers(&to);
        assert!(mine.exists());
        write("whole")(mine)
    })
    .expect("made");
    assert_eq!(names(folder.path()), ["copy.db", "other.db.part-1-0"]);
}
