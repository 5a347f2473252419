//! `lossy-disk BEFORE LOG AFTER END SEED [lying]`: the disk that a power cut leaves
//! behind when the drive had a cache of its own.
//!
//! BEFORE is the image at the start, LOG the writes since then as qemu's
//! `blklogwrites` driver notes them, END how many bytes of LOG were there when
//! the power went. AFTER gets every write up to the last flush, and of the
//! sectors written since then each one with probability one half, as SEED draws:
//! lost, torn and out of order at once. A `lying` drive had flushed nothing at all.
//!
//! **Source** of the format: the Linux kernel's documentation of `dm-log-writes`
//! (device-mapper/log-writes); field order as in `log_write_entry` there.
//! A write in flight while a flush was asked for counts as flushed.

use std::fs;
use std::process::ExitCode;

const SECTOR: usize = 512;
const MAGIC: u64 = 0x6a_7366_7773_6872;
const FLUSH: u64 = 1;
const FORCE_UNIT_ACCESS: u64 = 2;

fn main() -> ExitCode {
    let args: Vec<String> = std::env::args().skip(1).collect();
    match build(&args) {
        Ok(said) => {
            println!("{said}");
            ExitCode::SUCCESS
        }
        Err(problem) => {
            eprintln!("lossy-disk: {problem}");
            ExitCode::FAILURE
        }
    }
}

fn build(args: &[String]) -> Result<String, String> {
    let (args, lying) = match args {
        [args @ .., last] if last == "lying" => (args, true),
        _ => (args, false),
    };
    let [before, log, after, end, seed] = args else {
        return Err("give BEFORE LOG AFTER END SEED [lying]".into());
    };
    let end: usize = end.parse().map_err(|_| format!("END {end} is no number"))?;
    let seed = seed
        .parse()
        .map_err(|_| format!("SEED {seed} is no number"))?;
    let mut disk = fs::read(before).map_err(|e| format!("{before}: {e}"))?;
    let log_bytes = fs::read(log).map_err(|e| format!("{log}: {e}"))?;
    let log_bytes = &log_bytes[..end.min(log_bytes.len())];
    let writes = writes(log_bytes).map_err(|e| format!("{log}: {e}"))?;
    let flushed = writes.iter().rposition(|w| w.barrier).map_or(0, |i| i + 1);
    let safe = if lying { 0 } else { flushed };
    let mut random = Random(seed);
    let mut lost = 0;
    for (i, write) in writes.iter().enumerate() {
        let kept_anyway = i < safe || (write.force && !lying);
        for (n, data) in write.data.chunks_exact(SECTOR).enumerate() {
            let at = write.at + n * SECTOR;
            let sector = disk
                .get_mut(at..at + SECTOR)
                .ok_or_else(|| format!("{log}: a write beyond the end of {before}"))?;
            if kept_anyway || random.coin() {
                sector.copy_from_slice(data);
            } else {
                lost += 1;
            }
        }
    }
    fs::write(after, &disk).map_err(|e| format!("{after}: {e}"))?;
    let open: usize = writes[safe..].iter().map(|w| w.data.len() / SECTOR).sum();
    Ok(format!(
        "{} writes, {open} sectors not flushed, {lost} of them lost",
        writes.len()
    ))
}

struct Write<'a> {
    at: usize,
    data: &'a [u8],
    /// A flush: what was written before it is on the medium.
    barrier: bool,
    /// On the medium by itself.
    force: bool,
}

/// The complete entries of a log.
fn writes(log: &[u8]) -> Result<Vec<Write<'_>>, String> {
    let field = |at: usize| {
        let bytes = log.get(at..at + 8)?;
        bytes.try_into().ok().map(u64::from_le_bytes)
    };
    if field(0) != Some(MAGIC) {
        return Err("is no log of writes".into());
    }
    let mut out = Vec::new();
    let mut at = SECTOR;
    while let (Some(sector), Some(sectors), Some(flags)) =
        (field(at), field(at + 8), field(at + 16))
    {
        let data_at = at + SECTOR;
        let length = sectors as usize * SECTOR;
        // The entry that was being noted when the power went.
        if sectors == 0 && flags == 0 {
            break;
        }
        let Some(data) = log.get(data_at..data_at + length) else {
            break;
        };
        out.push(Write {
            at: sector as usize * SECTOR,
            data,
            barrier: flags & FLUSH != 0,
            force: flags & FORCE_UNIT_ACCESS != 0,
        });
        at = data_at + length;
    }
    Ok(out)
}

/// SplitMix64 (Steele, Lea, Flood 2014).
struct Random(u64);

impl Random {
    fn coin(&mut self) -> bool {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        (z ^ (z >> 31)) & 1 == 1
    }
}
