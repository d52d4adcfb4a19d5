//! Outputs: all or nothing, and what is refused.

use super::*;
use crate::files::output::write_atomic;

/// The names in a folder, sorted; hidden ones too.
fn names(folder: &Path) -> Vec<String> {
    let entries = fs::read_dir(folder).expect("a folder");
    let mut names: Vec<String> = entries
        .map(|entry| {
            entry
                .expect("an entry")
                .file_name()
                .into_string()
                .expect("UTF-8")
        })
        .collect();
    names.sort();
    names
}

fn file(path: &Path, text: &str) -> OutputFile {
    let mut file = OutputFile::create(path, &[]).expect("a file");
    file.write_all(text.as_bytes()).expect("written");
    file
}

#[test]
fn nothing_appears_before_everything_does() {
    let folder = tempfile::tempdir().expect("a folder");
    let (trace, report) = (
        folder.path().join("trace.csv"),
        folder.path().join("report.html"),
    );
    fs::write(&trace, "old").expect("written");
    let mut set = OutputSet::new();
    set.add(file(&trace, "new")).expect("added");
    set.add(file(&report, "page")).expect("added");
    assert_eq!(fs::read_to_string(&trace).expect("the old file"), "old");
    assert!(!report.exists());
    set.persist(&Cancel::new()).expect("in place");
    assert_eq!(fs::read_to_string(&trace).expect("the new file"), "new");
    assert_eq!(names(folder.path()), ["report.html", "trace.csv"]);
}

#[test]
fn a_dropped_failed_or_cancelled_output_leaves_nothing() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("trace.csv");
    drop(file(&path, "half"));
    let failed = write_atomic(&path, &[], |file| {
        file.write_all(b"half")?;
        Err(io::Error::other("no more"))
    });
    assert!(
        failed
            .expect_err("an error")
            .to_string()
            .contains("trace.csv: cannot be written: no more")
    );
    let cancel = Cancel::new();
    let mut set = OutputSet::new();
    set.add(file(&path, "whole")).expect("added");
    assert_eq!(cancel.check(), Ok(()));
    cancel.clone().request();
    assert!(matches!(
        set.persist(&cancel),
        Err(OutputError::Cancelled(_))
    ));
    assert_eq!(names(folder.path()), Vec::<String>::new());
}

#[test]
fn a_file_that_cannot_take_its_place_takes_the_others_back() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = |name: &str| folder.path().join(name);
    fs::write(path("old.csv"), "old").expect("written");
    let mut set = OutputSet::new();
    for name in ["old.csv", "new.csv", "blocked.csv", "last.csv"] {
        set.add(file(&path(name), "fresh")).expect("added");
    }
    // A folder of that name has come up meanwhile.
    fs::create_dir(path("blocked.csv")).expect("a folder");
    let error = set.persist(&Cancel::new()).expect_err("blocked");
    assert!(error.to_string().contains("blocked.csv"), "{error}");
    assert_eq!(
        fs::read_to_string(path("old.csv")).expect("the old file"),
        "old"
    );
    assert_eq!(names(folder.path()), ["blocked.csv", "old.csv"]);
}

#[test]
fn inputs_folders_and_repeated_names_are_refused() {
    let folder = tempfile::tempdir().expect("a folder");
    let log = folder.path().join("log.csv");
    fs::write(&log, "time,slab_c").expect("written");
    let detour = folder.path().join(".").join("log.csv");
    assert!(matches!(
        OutputFile::create(&detour, &[&log]),
        Err(OutputError::IsInput(_))
    ));
    assert!(matches!(
        OutputFile::create(folder.path(), &[]),
        Err(OutputError::IsFolder(_))
    ));
    let nowhere = folder.path().join("nowhere").join("trace.csv");
    assert!(matches!(
        OutputFile::create(&nowhere, &[]),
        Err(OutputError::Io { .. })
    ));
    let mut set = OutputSet::new();
    let path = folder.path().join("out.csv");
    set.add(file(&path, "a")).expect("added");
    assert!(matches!(
        set.add(file(&path, "b")),
        Err(OutputError::Repeated(_))
    ));
}

#[cfg(unix)]
#[test]
fn links_are_followed_and_devices_written_at_once() {
    use std::os::unix::fs::{PermissionsExt, symlink};
    let folder = tempfile::tempdir().expect("a folder");
    let (real, link) = (
        folder.path().join("real.csv"),
        folder.path().join("link.csv"),
    );
    fs::write(&real, "old").expect("written");
    symlink(&real, &link).expect("a link");
    assert!(matches!(
        OutputFile::create(&link, &[&real]),
        Err(OutputError::IsInput(_))
    ));
    write_atomic(&link, &[], |file| file.write_all(b"new")).expect("written");
    assert_eq!(fs::read_to_string(&real).expect("the file"), "new");
    assert!(fs::symlink_metadata(&link).expect("the link").is_symlink());
    let fresh = folder.path().join("fresh.csv");
    write_atomic(&fresh, &[], |file| file.write_all(b"new")).expect("written");
    fs::write(folder.path().join("usual.csv"), "").expect("written");
    let mode = |name: &str| {
        fs::metadata(folder.path().join(name))
            .expect("a file")
            .permissions()
            .mode()
    };
    assert_eq!(mode("fresh.csv"), mode("usual.csv"));
    write_atomic(Path::new("/dev/null"), &[], |file| file.write_all(b"gone")).expect("written");
    assert!(!fs::metadata("/dev/null").expect("the device").is_file());
}

#[cfg(unix)]
#[test]
fn an_input_is_known_by_what_it_is_and_not_by_its_name() {
    let folder = tempfile::tempdir().expect("a folder");
    let (weather, second) = (
        folder.path().join("weather.epw"),
        folder.path().join("second-name.epw"),
    );
    fs::write(&weather, "LOCATION").expect("written");
    fs::hard_link(&weather, &second).expect("a second name");
    for (output, input) in [(&weather, &second), (&second, &weather)] {
        assert!(matches!(
            OutputFile::create(output, &[input]),
            Err(OutputError::IsInput(_))
        ));
    }
    let other = folder.path().join("other.epw");
    assert!(!same_file(&other, &weather));
    assert!(same_file(
        &other,
        &folder.path().join(".").join("other.epw")
    ));
    // A device is no file that could be lost.
    assert!(check_apart(Path::new("/dev/null"), &[Path::new("/dev/null")]).is_ok());
}

#[cfg(unix)]
#[test]
fn permissions_stay_and_protection_is_kept() {
    use std::os::unix::fs::PermissionsExt;
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("trace.csv");
    let set_mode = |mode| {
        fs::set_permissions(&path, fs::Permissions::from_mode(mode)).expect("permissions");
    };
    fs::write(&path, "old").expect("written");
    set_mode(0o600);
    write_atomic(&path, &[], |file| file.write_all(b"new")).expect("written");
    let mode = fs::metadata(&path).expect("the file").permissions().mode();
    assert_eq!(mode & 0o777, 0o600);
    set_mode(0o444);
    let error = write_atomic(&path, &[], |file| file.write_all(b"newer")).expect_err("protected");
    assert!(matches!(error, OutputError::ReadOnly(_)), "{error}");
    assert_eq!(fs::read_to_string(&path).expect("the file"), "new");
    assert_eq!(names(folder.path()), ["trace.csv"]);
}

#[cfg(unix)]
#[test]
fn a_link_to_a_file_that_is_not_there_yet_is_followed_and_a_folders_name_is_refused() {
    use std::os::unix::fs::symlink;
    let folder = tempfile::tempdir().expect("a folder");
    let link = folder.path().join("link.csv");
    symlink("later.csv", &link).expect("a link");
    write_atomic(&link, &[], |file| file.write_all(b"new")).expect("written");
    let real = folder.path().join("later.csv");
    assert_eq!(fs::read_to_string(real).expect("the file"), "new");
    assert!(fs::symlink_metadata(&link).expect("the link").is_symlink());
    let circle = folder.path().join("circle");
    symlink("circle", &circle).expect("a link");
    assert!(matches!(
        OutputFile::create(&circle, &[]),
        Err(OutputError::Io { .. })
    ));
    assert!(matches!(
        OutputFile::create(&folder.path().join("x/"), &[]),
        Err(OutputError::IsFolder(_))
    ));
}

#[cfg(target_os = "linux")]
#[test]
fn a_full_device_is_named_once() {
    let error = write_atomic(Path::new("/dev/full"), &[], |file| {
        file.write_all(&vec![0; 2 * BUFFER])
    });
    let text = error.expect_err("full").to_string();
    assert_eq!(
        text.matches("/dev/full: cannot be written").count(),
        1,
        "{text}"
    );
    let error = write_atomic(Path::new("/dev/full"), &[], |file| file.write_all(b"short"));
    let text = error.expect_err("full").to_string();
    assert_eq!(
        text.matches("/dev/full: cannot be written").count(),
        1,
        "{text}"
    );
}
