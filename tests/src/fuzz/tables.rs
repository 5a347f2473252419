//! Tables of other loggers through `seepd replay`; the first byte picks how the
//! rig says the table is written.

use super::{Target, with_folder};
use crate::contents::Contents;
use crate::replay_in_process;
use crate::scratch::listing;

pub(super) const TARGET: Target = Target {
    name: "table",
    run,
    words: &[
        "t,tank,front\n",
        "t;tank;front\n",
        "\"",
        ",",
        ";",
        "\t",
        "\n",
        "\r\n",
        "nan",
        "inf",
        "-",
        "1e308",
        "true",
        "0",
        "1754820000",
        "1754820000000",
        "2025-10-26 02:30:00",
        "-1",
        "99999999999999999999",
        "\u{FEFF}",
        "\\",
    ],
    rounds: 300,
};

/// `time_format`, `zone` and `delimiter`.
const WRITTEN: [[&str; 3]; 4] = [
    ["unix_s", "UTC", ","],
    ["unix_ms", "UTC", ";"],
    ["%Y-%m-%d %H:%M:%S", "Europe/Berlin", ";"],
    ["%Y-%m-%dT%H:%M:%S%.f%z", "UTC", "\\t"],
];

fn rig([format, zone, delimiter]: [&str; 3]) -> String {
    format!(
        "[vehicle]\nname = \"invented\"\n[[circuit]]\nname = \"front\"\n\
         [[source]]\nname = \"tab\"\nkind = \"csv\"\ntime_column = \"t\"\n\
         time_format = \"{format}\"\nzone = \"{zone}\"\ndelimiter = \"{delimiter}\"\n\
         [[channel]]\nname = \"tank_kpa_gauge\"\nsource = \"tab\"\ncolumn = \"tank\"\nunit = \"bar\"\n\
         [[channel]]\nname = \"front_fill\"\nsource = \"tab\"\ncolumn = \"front\"\non_when = {{ above = 0.5 }}\n"
    )
}

fn run(data: &[u8]) {
    let Some((pick, table)) = data.split_first() else {
        return;
    };
    with_folder(|folder| {
        let at = |name: &str| folder.join(name);
        let written = WRITTEN[usize::from(*pick) % WRITTEN.len()];
        std::fs::write(at("rig.toml"), rig(written)).expect("written");
        std::fs::write(at("in.csv"), table).expect("written");
        let (code, said) = replay_in_process(&at("rig.toml"), &at("out.db"), &[&at("in.csv")]);
        assert!(code == 0 || code == 65, "{code}: {said}");
        assert_eq!(at("out.db").exists(), code == 0, "{said}");
        if code == 0 {
            let contents = Contents::of(&at("out.db"));
            assert!(contents.t_ms.windows(2).all(|w| w[0] < w[1]));
        }
        assert_eq!(listing(folder).len(), 2 + usize::from(code == 0));
        assert!(listing(folder)["in.csv"] == table);
    });
}
