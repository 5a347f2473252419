//! Seeded mutations of inputs: no coverage guides them, so they are no more than
//! they say.

use super::Target;
use crate::seeded::Seeded;

/// Inputs grow no further than this, bytes.
const MOST_BYTES: usize = 1 << 15;

/// Numbers at the edges of what types hold.
const EDGES: [&str; 12] = [
    "0",
    "-1",
    "1",
    "127",
    "128",
    "255",
    "65536",
    "2147483648",
    "4294967295",
    "9223372036854775807",
    "-9223372036854775808",
    "1e309",
];

/// A changed copy of one of the inputs.
#[must_use]
pub fn mutated(corpus: &[Vec<u8>], target: &Target, seeded: &mut Seeded) -> Vec<u8> {
    let mut data = corpus[seeded.below(corpus.len())].clone();
    for _ in 0..1 + seeded.below(8) {
        once(&mut data, corpus, target, seeded);
    }
    data.truncate(MOST_BYTES);
    data
}

fn once(data: &mut Vec<u8>, corpus: &[Vec<u8>], target: &Target, seeded: &mut Seeded) {
    let at = seeded.below(data.len() + 1);
    let to = (at + 1 + seeded.below(40)).min(data.len());
    match seeded.below(9) {
        0 if !data.is_empty() => {
            let i = seeded.below(data.len());
            data[i] ^= 1 << seeded.below(8);
        }
        1 if !data.is_empty() => {
            let i = seeded.below(data.len());
            data[i] = seeded.bits() as u8;
        }
        2 => drop(data.drain(at.min(to)..to)),
        3 => {
            let n = seeded.below(20);
            let noise = seeded.bytes(n);
            data.splice(at..at, noise);
        }
        4 => {
            let part = data[at.min(to)..to].to_vec();
            data.splice(at..at, part);
        }
        5 => {
            let other = &corpus[seeded.below(corpus.len())];
            let from = seeded.below(other.len() + 1);
            let n = seeded.below(200).min(other.len() - from);
            data.splice(at..at, other[from..from + n].iter().copied());
        }
        6 if !target.words.is_empty() => {
            let word = target.words[seeded.below(target.words.len())];
            data.splice(at..at, word.bytes());
        }
        7 => replace_number(data, at, seeded),
        _ => data.truncate(at),
    }
}

/// The next number in the text becomes one at an edge.
fn replace_number(data: &mut Vec<u8>, at: usize, seeded: &mut Seeded) {
    let digit = |b: &u8| b.is_ascii_digit();
    let Some(start) = data[at..].iter().position(digit).map(|i| at + i) else {
        return;
    };
    let length = data[start..].iter().take_while(|b| digit(b)).count();
    let edge = EDGES[seeded.below(EDGES.len())];
    data.splice(start..start + length, edge.bytes());
}
