//! `seep trip --notify`: a hook gets what asks for attention, once.

use super::{SEEP, replayed};
use seep_tests::code;
use serde_json::Value;
use std::io::{BufRead, BufReader, Read, Write};
use std::net::TcpListener;
use std::os::unix::fs::PermissionsExt;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

struct House {
    folder: tempfile::TempDir,
    log: String,
}

impl House {
    fn new(scenario: &str) -> House {
        let folder = tempfile::tempdir().expect("scratch");
        let log = replayed(scenario, folder.path());
        std::fs::create_dir_all(folder.path().join("config/seep")).expect("made");
        House { folder, log }
    }

    fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    fn hook(&self, words: &[&str]) {
        let text = format!("[notify]\ncommand = {words:?}\n");
        std::fs::write(self.path("config/seep/seep.toml"), text).expect("written");
    }

    fn night(&self) -> Output {
        Command::new(SEEP)
            .args(["trip", "--log", &self.log, "--zone", "UTC", "--notify"])
            .env("XDG_CONFIG_HOME", self.path("config"))
            .env("XDG_CACHE_HOME", self.path("cache"))
            .env("XDG_STATE_HOME", self.path("state"))
            .env_remove("STATE_DIRECTORY")
            .env("SENDMAIL", self.path("sendmail"))
            .output()
            .expect("starts")
    }
}

fn script(path: &Path, text: &str) -> String {
    std::fs::write(path, text).expect("written");
    let mode = std::fs::Permissions::from_mode(0o755);
    std::fs::set_permissions(path, mode).expect("may be run");
    path.display().to_string()
}

fn said(done: &Output) -> String {
    String::from_utf8_lossy(&done.stderr).into_owned()
}

fn shipped(name: &str) -> String {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"))
        .parent()
        .expect("root");
    root.join("systemd").join(name).display().to_string()
}

#[test]
fn a_finding_is_told_once_and_again_when_the_hook_failed() {
    let house = House::new("slow-leak-overnight");
    let got = house.path("got");
    let text = format!(
        "#!/bin/sh\ncat >> {}\nexit $(cat {} 2>/dev/null || echo 0)\n",
        got.display(),
        house.path("fails").display()
    );
    house.hook(&[&script(&house.path("hook"), &text)]);
    std::fs::write(house.path("fails"), "3").expect("written");
    let failed = house.night();
    assert_eq!(code(&failed), 74, "{}", said(&failed));
    assert!(
        said(&failed).contains("told again next time"),
        "{}",
        said(&failed)
    );
    std::fs::remove_file(house.path("fails")).expect("gone");
    std::fs::remove_file(&got).expect("it was given something");
    let told = house.night();
    assert_eq!(code(&told), 0, "{}", said(&told));
    let notice: Value = serde_json::from_slice(&std::fs::read(&got).expect("told")).expect("JSON");
    assert_eq!(notice["findings"][0]["kind"], "corner_leak");
    assert_eq!(notice["findings"][0]["place"], "rear_right");
    assert_eq!(notice["severity"], "act");
    assert!(
        notice["caution"]
            .as_str()
            .expect("a caution")
            .contains("rated stands")
    );
    std::fs::remove_file(&got).expect("read");
    let again = house.night();
    assert_eq!(code(&again), 0, "{}", said(&again));
    assert!(!got.exists(), "the same finding is not told every night");
}

#[test]
fn nothing_is_told_of_a_sound_car_and_a_missing_hook_is_said() {
    let house = House::new("healthy-road-trip");
    let none = house.night();
    assert_ne!(code(&none), 0);
    assert!(said(&none).contains("[notify]"), "{}", said(&none));
    let got = house.path("got");
    let text = format!("#!/bin/sh\ncat > {}\n", got.display());
    house.hook(&[&script(&house.path("hook"), &text)]);
    let done = house.night();
    assert_eq!(code(&done), 0, "{}", said(&done));
    assert!(!got.exists());
}

/// The sendmail interface: the message with its head on standard input, `-t` takes the
/// address from it.
#[test]
fn the_shipped_hook_hands_a_mail_to_sendmail() {
    let house = House::new("slow-leak-overnight");
    let got = house.path("mail");
    let text = format!("#!/bin/sh\n{{ echo \"$@\"; cat; }} > {}\n", got.display());
    script(&house.path("sendmail"), &text);
    house.hook(&[&shipped("tell-by-mail"), "me@example.org"]);
    let done = house.night();
    assert_eq!(code(&done), 0, "{}", said(&done));
    let mail = std::fs::read_to_string(&got).expect("sent");
    assert!(
        mail.starts_with("-t -i\nTo: me@example.org\nSubject: "),
        "{mail}"
    );
    let body = mail.split_once("\n\n").expect("head and body").1;
    let notice: Value = serde_json::from_str(body).expect("JSON");
    assert_eq!(notice["schema"], "seep-notice/1");
}

#[test]
fn the_shipped_hook_posts_to_the_web() {
    if Command::new("curl").arg("--version").output().is_err() {
        eprintln!("SKIPPED LOUDLY: the_shipped_hook_posts_to_the_web: curl is not installed");
        return;
    }
    let listener = TcpListener::bind("127.0.0.1:0").expect("a port");
    let address = format!("http://{}/hook", listener.local_addr().expect("known"));
    let server = std::thread::spawn(move || {
        let (mut stream, _) = listener.accept().expect("a post");
        let mut reader = BufReader::new(stream.try_clone().expect("two ends"));
        let (mut head, mut length) = (String::new(), 0);
        while reader.read_line(&mut head).expect("a line") > 2 {
            let last = head.lines().last().unwrap_or_default().to_lowercase();
            if let Some(n) = last.strip_prefix("content-length:") {
                length = n.trim().parse().expect("a number");
            }
        }
        if head.to_lowercase().contains("expect: 100-continue") {
            stream
                .write_all(b"HTTP/1.1 100 Continue\r\n\r\n")
                .expect("sent");
        }
        let mut body = vec![0; length];
        reader.read_exact(&mut body).expect("the body");
        let answer = b"HTTP/1.1 204 No Content\r\nConnection: close\r\n\r\n";
        stream.write_all(answer).expect("sent");
        body
    });
    let house = House::new("slow-leak-overnight");
    house.hook(&[&shipped("tell-by-web"), &address]);
    let done = house.night();
    assert_eq!(code(&done), 0, "{}", said(&done));
    let notice: Value = serde_json::from_slice(&server.join().expect("served")).expect("JSON");
    assert_eq!(notice["findings"][0]["kind"], "corner_leak");
}
