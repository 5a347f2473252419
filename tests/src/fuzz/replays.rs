//! Recorded files of both wires through `seepd replay`, twice into one log: what
//! lies between the codecs and the rows (times, order, sessions).

use super::{Target, with_folder};
use crate::contents::Contents;
use crate::scratch::listing;
use crate::seepd_in_process;
use std::path::Path;

pub(super) const TARGET: Target = Target {
    name: "replay",
    run,
    words: &[
        "(1754820000.000000) can0 18FEF521#FFFFFFFFFFFFFFFF\n",
        "(0.000000)",
        "(-1.5)",
        "(7258118399.999999)",
        "(9223372036854.775807)",
        "#FFFFFFFFFFFFFFFF\n",
        " can1 ",
        "\\c:1754820000*",
        "c:-9223372036854775808",
        "c:9223372036854775807",
        "$YXXDR,P,8.5000,B,TKP*",
        "$GPZDA,",
        "\r\n",
        "99",
        "-",
    ],
    rounds: 200,
};

/// Times of a log lie in the years 1970 to 2199 and, appended, a little after.
const LAST_T_MS: i64 = 2 * 7_258_118_400_000;

fn run(data: &[u8]) {
    with_folder(|folder| {
        let at = |name: &str| folder.join(name);
        let rig = include_str!("../../../sample-logs/logs/kinked-line/rig.toml");
        std::fs::write(at("rig.toml"), rig).expect("written");
        std::fs::write(at("in.log"), data).expect("written");
        let (code, said) = replay(folder, false);
        assert!(code == 0 || code == 65, "{code}: {said}");
        assert_eq!(at("out.db").exists(), code == 0, "{said}");
        if code == 0 {
            let once = times(&at("out.db"));
            let (code, said) = replay(folder, true);
            assert_eq!(code, 0, "{said}");
            let twice = times(&at("out.db"));
            assert!(twice.len() > once.len(), "{said}");
            assert_eq!(twice[..once.len()], once, "rows were rewritten");
        }
        assert!(listing(folder)["in.log"] == data);
    });
}

fn replay(folder: &Path, append: bool) -> (u8, String) {
    let at = |name: &str| folder.join(name).into_os_string();
    let mut args = vec!["seepd".into(), "replay".into()];
    if append {
        args.push("--append".into());
    }
    args.extend(["--rig".into(), at("rig.toml"), "--log".into(), at("out.db")]);
    args.push(at("in.log"));
    seepd_in_process(args.into_iter())
}

fn times(log: &Path) -> Vec<i64> {
    let t_ms = Contents::of(log).t_ms;
    assert!(t_ms.windows(2).all(|w| w[0] < w[1]));
    assert!(t_ms.iter().all(|t| (0..=LAST_T_MS).contains(t)), "{t_ms:?}");
    t_ms
}
