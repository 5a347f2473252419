//! Reader of the NIST StRD nonlinear files.

use std::path::PathBuf;

/// A nonlinear reference set.
pub(crate) struct Dat {
    /// Both certified starts.
    pub(crate) starts: [Vec<f64>; 2],
    /// Certified parameters.
    pub(crate) values: Vec<f64>,
    /// Certified standard deviations of the parameters.
    pub(crate) errors: Vec<f64>,
    /// Certified residual sum of squares.
    pub(crate) rss: f64,
    /// Certified residual standard deviation.
    pub(crate) residual_sd: f64,
    /// Observed response.
    pub(crate) y: Vec<f64>,
    /// Predictors, one row per observation.
    pub(crate) x: Vec<Vec<f64>>,
}

pub(crate) fn path(name: &str) -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR"))
        .join("tests/reference")
        .join(name)
}

pub(crate) fn text(name: &str) -> String {
    let path = path(name);
    std::fs::read_to_string(&path).unwrap_or_else(|e| panic!("{}: {e}", path.display()))
}

/// The numbers in a line; other words are passed over.
pub(crate) fn numbers(line: &str) -> Vec<f64> {
    line.split_whitespace()
        .filter_map(|w| w.parse().ok())
        .collect()
}

/// Lines `first` to `last`, counted from 1, as the header gives them.
pub(crate) fn lines(text: &str, first: usize, last: usize) -> impl Iterator<Item = &str> {
    text.lines().skip(first - 1).take(last + 1 - first)
}

/// Line numbers behind a title such as `Data              (lines 61 to 74)`.
pub(crate) fn range(text: &str, title: &str) -> (usize, usize) {
    let line = text
        .lines()
        .take(12)
        .find(|l| l.to_lowercase().contains(title) && l.contains("(lines"))
        .unwrap_or_else(|| panic!("no lines given for {title}"));
    let tail = line.rsplit("(lines").next().unwrap();
    let found = numbers(&tail.replace(')', " "));
    (found[0] as usize, found[1] as usize)
}

fn after(text: &str, title: &str) -> f64 {
    let line = text.lines().find(|l| l.starts_with(title)).unwrap();
    numbers(line)[0]
}

impl Dat {
    /// Read a set and check that it is whole.
    pub(crate) fn read(name: &str) -> Dat {
        let text = text(&format!("nist/{name}.dat"));
        let (first, last) = range(&text, "starting values");
        let rows: Vec<Vec<f64>> = lines(&text, first, last).map(numbers).collect();
        assert!(rows.iter().all(|r| r.len() == 4), "{name}: parameters");
        let column = |j: usize| rows.iter().map(|r| r[j]).collect::<Vec<_>>();
        let (first, last) = range(&text, "data  ");
        let data: Vec<Vec<f64>> = lines(&text, first, last).map(numbers).collect();
        let dat = Dat {
            starts: [column(0), column(1)],
            values: column(2),
            errors: column(3),
            rss: after(&text, "Residual Sum of Squares:"),
            residual_sd: after(&text, "Residual Standard Deviation:"),
            y: data.iter().map(|r| r[0]).collect(),
            x: data.iter().map(|r| r[1..].to_vec()).collect(),
        };
        let count = after(&text, "Number of Observations:") as usize;
        assert_eq!(dat.y.len(), count, "{name}: observations");
        dat
    }
}

#[test]
fn the_reader_takes_what_the_file_says() {
    let dat = Dat::read("Misra1a");
    assert_eq!(dat.starts[0], [500.0, 0.0001]);
    assert_eq!(dat.starts[1], [250.0, 0.0005]);
    assert_eq!(dat.values, [2.389_421_291_8e2, 5.501_564_318_1e-4]);
    assert_eq!(dat.errors, [2.707_007_524_1, 7.266_868_843_6e-6]);
    assert_eq!((dat.y[13], dat.x[13][0]), (81.78, 760.0));
    assert_eq!(Dat::read("Nelson").x[0], [1.0, 180.0]);
}
