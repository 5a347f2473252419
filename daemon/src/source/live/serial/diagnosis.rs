//! Bytes arrive, and none of them makes a sentence: why?

use seep_common::codec::nmea::LexerCounts;
use seep_common::time::BootMs;

/// So long bytes must arrive without a good sentence, ms.
const LONG_ENOUGH_MS: i64 = 5_000;

/// So many bytes must arrive without a good sentence: more than any sentence has.
const MANY_BYTES: u64 = 300;

/// Bytes farther apart than this are judged anew, ms.
const PAUSE_MS: i64 = 5_000;

/// Diagnoses a line whose bytes make no sentence.
#[derive(Debug, Clone, Copy)]
pub(super) struct LineDiagnosis {
    baud: u32,
    /// Since when, and what had been found by then.
    since: Option<(BootMs, LexerCounts)>,
    last_ms: BootMs,
    told: bool,
}

impl LineDiagnosis {
    pub(super) fn new(baud: u32) -> Self {
        LineDiagnosis {
            baud,
            since: None,
            last_ms: BootMs::MIN,
            told: false,
        }
    }

    /// A cause has been told, and no good sentence has come since.
    pub(super) fn is_told(&self) -> bool {
        self.told
    }

    /// Bytes arrived at `t_ms`, with what the lexer had found before and after
    /// them. Returns a cause, once, when enough of them made no sentence.
    pub(super) fn look(
        &mut self,
        t_ms: BootMs,
        good: bool,
        before: LexerCounts,
        now: LexerCounts,
    ) -> Option<String> {
        if good {
            self.since = None;
            self.told = false;
            return None;
        }
        if t_ms.since(self.last_ms) > PAUSE_MS {
            self.since = None;
        }
        self.last_ms = t_ms;
        let (since_ms, then) = *self.since.get_or_insert((t_ms, before));
        let bytes = now.bytes - then.bytes;
        if self.told || t_ms.since(since_ms) < LONG_ENOUGH_MS || bytes < MANY_BYTES {
            return None;
        }
        self.told = true;
        Some(self.cause(then, now, bytes))
    }

    fn cause(&self, then: LexerCounts, now: LexerCounts, bytes: u64) -> String {
        let bad = now.bad_checksums - then.bad_checksums;
        let bare = now.missing_checksums - then.missing_checksums;
        let discarded = now.discarded_bytes - then.discarded_bytes;
        let why = if bare > 0 && bare >= bad {
            "the sentences carry no checksum; let the sender add it".to_string()
        } else if bad > 0 && discarded * 2 < bytes {
            "every checksum is wrong: noise on the wire, or a sender that computes it otherwise"
                .to_string()
        } else {
            let baud = self.baud;
            format!(
                "wrong line speed suspected ({baud} baud); compare `baud` in the rig with the sender"
            )
        };
        format!("bytes arrive, but no good sentence: {why}")
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use seep_common::codec::nmea::Lexer;

    /// Feed a text ten times a second for ten seconds; the first cause told.
    fn told(bytes: &[u8]) -> Option<String> {
        let mut lexer = Lexer::new();
        let mut doubt = LineDiagnosis::new(4_800);
        (0..100).find_map(|i| {
            let before = lexer.counts();
            let mut good = false;
            lexer.push(bytes, &mut |item| {
                good |= matches!(item, seep_common::codec::nmea::Item::Sentence(_));
            });
            doubt.look(BootMs(i * 100), good, before, lexer.counts())
        })
    }

    #[test]
    fn each_cause_is_told_apart() {
        let cause = told(b"\xF8\x00\xE0x\x80\xFE\x06\x98").expect("noise");
        assert!(cause.contains("4800 baud"), "{cause}");
        let cause = told(b"$YXXDR,P,8.0,B,TANK\r\n").expect("bare");
        assert!(cause.contains("no checksum"), "{cause}");
        let cause = told(b"$YXXDR,P,8.013250,B,TANK,C,20.0,C,AMB*0D\r\n").expect("wrong");
        assert!(cause.contains("every checksum is wrong"), "{cause}");
        assert_eq!(told(b"$YXXDR,P,8.013250,B,TANK,C,20.0,C,AMB*0C\r\n"), None);
    }

    #[test]
    fn a_few_bytes_of_noise_now_and_then_are_no_reason() {
        let mut doubt = LineDiagnosis::new(38_400);
        let mut counts = LexerCounts::default();
        for minute in 0..200 {
            let before = counts;
            counts.bytes += 3;
            let told = doubt.look(BootMs(minute * 60_000), false, before, counts);
            assert_eq!(told, None);
        }
    }
}
