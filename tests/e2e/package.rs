//! The Debian package, made by `systemd/package` of the programs under test, and a
//! folder of packages that apt reads, signed and unsigned. Needs cargo-deb and Debian's
//! own tools; without them the tests say so.

use super::{SEEP, SEEPD};
use seep_tests::scratch::scratch;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};
use std::sync::OnceLock;

const ROOT: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/..");

fn run(program: &str, args: &[&str]) -> Output {
    let done = Command::new(program).args(args).current_dir(ROOT).output();
    done.unwrap_or_else(|e| panic!("{program}: {e}"))
}

fn text(program: &str, args: &[&str]) -> String {
    let done = run(program, args);
    let error = String::from_utf8_lossy(&done.stderr);
    assert!(done.status.success(), "{program} {args:?}: {error}");
    String::from_utf8(done.stdout).expect("UTF-8")
}

/// What the tests need and this machine has not.
fn lacking() -> Option<String> {
    let has = |program: &str, args: &[&str]| {
        let done = Command::new(program).args(args).output();
        done.is_ok_and(|d| d.status.success())
    };
    let needed = [
        ("cargo-deb", "cargo", vec!["deb", "--version"]),
        ("dpkg-deb", "dpkg-deb", vec!["--version"]),
        ("dpkg-scanpackages", "dpkg-scanpackages", vec!["--version"]),
        ("readelf", "readelf", vec!["--version"]),
    ];
    let missing = needed.iter().filter(|(_, p, args)| !has(p, args));
    let names: Vec<&str> = missing.map(|(name, ..)| *name).collect();
    (!names.is_empty()).then(|| names.join(", "))
}

/// The package of the programs under test, made once.
fn package(test: &str) -> Option<&'static Path> {
    static PACKAGE: OnceLock<Result<PathBuf, String>> = OnceLock::new();
    let made = PACKAGE.get_or_init(|| match lacking() {
        Some(lacking) => Err(lacking),
        None => Ok(make()),
    });
    match made {
        Ok(path) => Some(path),
        Err(lacking) => {
            println!(
                "SKIPPED LOUDLY: {test}: {lacking} missing (cargo install --locked cargo-deb; apt install dpkg-dev binutils)"
            );
            None
        }
    }
}

fn make() -> PathBuf {
    let folder = Path::new(SEEPD).parent().expect("a folder");
    let target = folder.parent().expect("the target folder");
    let done = Command::new("systemd/package")
        .args([
            "--profile",
            "dev",
            "--no-build",
            "--",
            "-Z",
            "xz",
            "--fast",
            "--strip",
        ])
        .env("CARGO_TARGET_DIR", target)
        .current_dir(ROOT)
        .output()
        .expect("systemd/package runs");
    let said = String::from_utf8_lossy(&done.stdout);
    let error = String::from_utf8_lossy(&done.stderr);
    assert!(done.status.success(), "{error}");
    let line = said.lines().last().expect("a line");
    println!("{line}");
    let (path, facts) = line.split_once(": ").expect("path and facts");
    assert!(
        facts.contains("needs ") && facts.contains("GLIBC "),
        "{line}"
    );
    PathBuf::from(path)
}

#[test]
fn holds_both_programs_their_pages_completions_and_units() {
    let Some(deb) = package("holds_both_programs_their_pages_completions_and_units") else {
        return;
    };
    let deb = deb.to_str().expect("UTF-8");
    let listing = text("dpkg-deb", &["--contents", deb]);
    let files: Vec<(&str, &str)> = (listing.lines())
        .map(|line| {
            let owner = line.split_whitespace().nth(1);
            assert!(matches!(owner, Some("root/root" | "0/0")), "{line}");
            (
                line.split(' ').next().expect("mode"),
                line.rsplit(" ./").next().expect("path"),
            )
        })
        .filter(|f| f.0.starts_with('-'))
        .collect();
    let mode = |path: &str| files.iter().find(|f| f.1 == path).map(|f| f.0);
    for program in ["seep", "seepd"] {
        assert_eq!(mode(&format!("usr/bin/{program}")), Some("-rwxr-xr-x"));
        for path in [
            format!("usr/share/bash-completion/completions/{program}"),
            format!("usr/share/zsh/vendor-completions/_{program}"),
            format!("usr/share/fish/vendor_completions.d/{program}.fish"),
            format!("usr/share/man/man1/{program}.1.gz"),
        ] {
            assert_eq!(mode(&path), Some("-rw-r--r--"), "{path}");
        }
    }
    for path in [
        "usr/share/man/man1/seep-volumes.1.gz",
        "usr/share/man/man1/seepd-listen.1.gz",
        "usr/share/man/man5/seep-rig.5.gz",
        "usr/share/man/man5/seep.toml.5.gz",
        "usr/lib/systemd/system/seepd.service",
        "usr/lib/systemd/system/seep-night.timer",
        "usr/lib/sysusers.d/seepd.conf",
        "usr/lib/tmpfiles.d/seepd.conf",
        "usr/share/doc/seep/copyright",
        "usr/share/doc/seep/changelog.Debian.gz",
    ] {
        assert_eq!(mode(path), Some("-rw-r--r--"), "{path}");
    }
    for path in ["usr/lib/seep/tell-by-mail", "usr/lib/seep/tell-by-web"] {
        assert_eq!(mode(path), Some("-rwxr-xr-x"), "{path}");
    }
    let stray: Vec<_> = files.iter().filter(|f| !f.1.starts_with("usr/")).collect();
    assert!(stray.is_empty(), "{stray:?}");
    let field = |name: &str| text("dpkg-deb", &["--field", deb, name]);
    let depends = field("Depends");
    assert!(
        depends.contains("libc6 (>= ") && depends.contains("systemd"),
        "{depends}"
    );
    // SQLite and compression are inside: nothing else is asked of the system.
    for one in depends.trim().split(", ") {
        let name = one.split(' ').next().expect("a name");
        assert!(
            ["libc6", "libgcc-s1", "systemd"].contains(&name),
            "{depends}"
        );
    }
    assert_eq!(field("Package").trim(), "seep");
}

#[test]
fn what_is_inside_is_what_the_programs_write() {
    let Some(deb) = package("what_is_inside_is_what_the_programs_write") else {
        return;
    };
    let folder = scratch();
    let root = folder.path().join("root");
    let at = |path: &str| root.join(path).display().to_string();
    text(
        "dpkg-deb",
        &["--raw-extract", deb.to_str().expect("UTF-8"), &at("")],
    );
    for (name, program) in [("seep", SEEP), ("seepd", SEEPD)] {
        let bash = at(&format!("usr/share/bash-completion/completions/{name}"));
        text("bash", &["-n", &bash]);
        for (shell, path) in [
            ("bash", bash),
            (
                "zsh",
                at(&format!("usr/share/zsh/vendor-completions/_{name}")),
            ),
            (
                "fish",
                at(&format!("usr/share/fish/vendor_completions.d/{name}.fish")),
            ),
        ] {
            let script = std::fs::read_to_string(&path).expect("there");
            assert!(!script.is_empty(), "{path}");
            assert_eq!(script, text(program, &["completions", shell]), "{path}");
        }
        let version = text(&at(&format!("usr/bin/{name}")), &["--version"]);
        assert_eq!(version, text(program, &["--version"]));
    }
    for script in ["DEBIAN/postinst", "DEBIAN/prerm"] {
        text("sh", &["-n", &at(script)]);
    }
}

/// apt with a folder of its own: nothing of this machine's is read or written.
struct Apt<'a> {
    folder: &'a Path,
}

impl Apt<'_> {
    fn run(&self, source: &str, args: &[&str]) -> Output {
        let at = |path: &str| self.folder.join(path);
        for path in [
            "state/lists/partial",
            "cache/archives/partial",
            "etc/parts",
            "out",
        ] {
            std::fs::create_dir_all(at(path)).expect("a folder");
        }
        std::fs::write(at("state/status"), "").expect("written");
        std::fs::write(at("etc/sources.list"), source).expect("written");
        let option = |key: &str, path: &str| format!("{key}={}", at(path).display());
        let mut apt = Command::new("apt-get");
        for (key, path) in [
            ("Dir::State", "state"),
            ("Dir::State::status", "state/status"),
            ("Dir::Cache", "cache"),
            ("Dir::Etc::sourcelist", "etc/sources.list"),
            ("Dir::Etc::sourceparts", "etc/parts"),
        ] {
            apt.arg("-o").arg(option(key, path));
        }
        // The sandbox's user may not enter a scratch folder.
        let user = text("id", &["-un"]);
        apt.arg("-o")
            .arg(format!("APT::Sandbox::User={}", user.trim()));
        apt.args(["-q", "-y"]).args(args).current_dir(at("out"));
        apt.output().expect("apt-get runs")
    }
}

#[test]
fn apt_reads_the_folder_only_when_it_is_trusted() {
    const TEST: &str = "apt_reads_the_folder_only_when_it_is_trusted";
    let Some(deb) = package(TEST) else {
        return;
    };
    let has = |program: &str| Command::new(program).arg("--version").output().is_ok();
    if !has("apt-get") || !has("gpg") {
        println!("SKIPPED LOUDLY: {TEST}: apt-get or gpg is missing");
        return;
    }
    let scratch = scratch();
    let published = scratch.path().join("published");
    let (folder, deb_path) = (
        published.to_str().expect("UTF-8"),
        deb.to_str().expect("UTF-8"),
    );
    println!("{}", text("systemd/apt-folder", &[folder, deb_path]).trim());
    let apt_folder = scratch.path().join("apt");
    let apt = Apt {
        folder: &apt_folder,
    };
    let unsigned = apt.run(&format!("deb file:{folder} stable main\n"), &["update"]);
    let error = String::from_utf8_lossy(&unsigned.stderr);
    assert!(error.contains("is not signed"), "{error}");

    let key = sign(scratch.path(), &published);
    let source = format!("deb [signed-by={key}] file:{folder} stable main\n");
    let update = apt.run(&source, &["update"]);
    let error = String::from_utf8_lossy(&update.stderr);
    assert!(update.status.success() && error.is_empty(), "{error}");
    let fetched = apt.run(&source, &["download", "seep"]);
    let error = String::from_utf8_lossy(&fetched.stderr);
    assert!(fetched.status.success(), "{error}");
    let name = text(
        "dpkg-deb",
        &["--field", deb_path, "Version", "Architecture"],
    );
    let out = std::fs::read_dir(apt_folder.join("out")).expect("a folder");
    let got = out
        .map(|e| e.expect("an entry").path())
        .next()
        .expect(&name);
    let bytes = |path: &Path| std::fs::read(path).expect("read");
    assert!(bytes(&got) == bytes(deb), "{}", got.display());

    // A list changed after signing is refused.
    let release = published.join("dists/stable/InRelease");
    let changed =
        (std::fs::read_to_string(&release).expect("signed")).replace("Label: seep", "Label: soup");
    std::fs::write(&release, changed).expect("written");
    std::fs::remove_dir_all(apt_folder.join("state")).expect("removed");
    let update = apt.run(&source, &["update"]);
    let error = String::from_utf8_lossy(&update.stderr);
    assert!(error.contains("BADSIG"), "{error}");
}

/// Signs the lists with a key made for this test; returns the public key's file.
fn sign(scratch: &Path, published: &Path) -> String {
    let home = scratch.join("gpg");
    std::fs::create_dir(&home).expect("a folder");
    let key = scratch.join("seep.asc");
    let script = format!(
        "set -e; export GNUPGHOME='{home}'; chmod 700 \"$GNUPGHOME\"
         gpg -q --batch --passphrase '' --quick-gen-key 'invented maintainer' ed25519 sign never
         gpg -q --armor --export >'{key}'
         cd '{lists}'; gpg -q --batch --clearsign -o InRelease Release
         gpgconf --kill all",
        home = home.display(),
        key = key.display(),
        lists = published.join("dists/stable").display(),
    );
    text("sh", &["-c", &script]);
    key.display().to_string()
}
