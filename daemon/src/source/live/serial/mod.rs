//! NMEA 0183 sentences on a serial line.

mod diagnosis;
mod line_decoder;
mod remarks;

#[cfg(test)]
mod tests;

use super::backoff::Backoff;
use super::context::{BEAT_EVERY, Stopped};
use super::reporter::SourceReporter;
use super::supervise::SourceFactory;
use super::tty::{LineTotals, NO_DEVICE, Tty, UnreadInput, read_failed, unplugged};
use crate::pause::{Pause, PauseDetector};
use crate::source::Item;
use diagnosis::LineDiagnosis;
use line_decoder::LineDecoder;
use remarks::Remark;
use seep_common::codec::decode::NmeaDecoder;
use seep_common::rig::Rig;
use tokio::io::AsyncReadExt;
use tokio::time::{MissedTickBehavior, interval};

/// Bytes taken at a time.
const PORTION: usize = 4096;

/// At the end at most this much of what has already arrived is still taken, bytes.
const LAST_BYTES: usize = 64 * 1024;

/// A line that is still open after so many beats is there, even if it says
/// nothing.
const QUIET_BEATS: u32 = 2;

/// What is needed to read the line of a source.
pub(super) fn prepare(rig: &Rig, source: usize, device: Option<&str>, baud: u32) -> SourceFactory {
    let decoder = NmeaDecoder::new(rig, source).map_err(|e| e.to_string());
    let device = device.map(str::to_string);
    Box::new(move |mut reporter| {
        let (decoder, device) = (decoder.clone(), device.clone());
        Box::pin(async move {
            match (decoder, device) {
                (Ok(decoder), Some(device)) => {
                    Reader::new(reporter, decoder, device, baud).run().await
                }
                (Err(problem), _) => reporter.never(problem).await,
                (_, None) => reporter.never(NO_DEVICE.into()).await,
            }
        })
    })
}

/// Reads one line, as long as recording goes on.
struct Reader {
    reporter: SourceReporter,
    decoder: LineDecoder,
    diagnosis: LineDiagnosis,
    line_totals: LineTotals,
    device: String,
    baud: u32,
    items: Vec<Item>,
    backoff: Backoff,
}

impl Reader {
    fn new(reporter: SourceReporter, decoder: NmeaDecoder, device: String, baud: u32) -> Self {
        Reader {
            decoder: LineDecoder::new(reporter.source(), decoder),
            reporter,
            diagnosis: LineDiagnosis::new(baud),
            line_totals: LineTotals::default(),
            device,
            baud,
            items: Vec::new(),
            backoff: Backoff::new(),
        }
    }

    async fn run(mut self) -> Result<(), Stopped> {
        loop {
            let opened =
                Tty::open_with_unread_input(&self.device, self.baud, &mut self.line_totals);
            let cause = match opened {
                Ok((mut tty, unread_input)) => {
                    self.drop_unread_input(unread_input).await;
                    let ended = self.listen(&mut tty).await;
                    // The old one is closed before the next is opened: a device
                    // that comes back cannot get its old number while it is open.
                    tty.close(&mut self.line_totals);
                    self.decoder.cut();
                    ended?
                }
                Err(cause) => cause,
            };
            self.reporter.lost(cause).await?;
            self.report_totals(None).await?;
            self.reporter.sleep(self.backoff.next()).await?;
        }
    }

    /// Counts the readings of the unread input as not dated. A sentence of which only a
    /// part is in the unread input is dated by its end.
    async fn drop_unread_input(&mut self, unread_input: Option<UnreadInput>) {
        if let Some(unread_input) = unread_input {
            let bytes = unread_input.read().await;
            self.decoder.take_undated(&bytes, self.reporter.now_ms());
        }
    }

    /// Read an open line to its end; why it ended.
    async fn listen(&mut self, tty: &mut Tty) -> Result<String, Stopped> {
        let mut portion = vec![0; PORTION];
        let mut beat = interval(BEAT_EVERY);
        beat.set_missed_tick_behavior(MissedTickBehavior::Delay);
        let mut beats = 0u32;
        self.diagnosis = LineDiagnosis::new(self.baud);
        // The first round is now: a pause from here on is one of the recorder.
        let mut pauses = PauseDetector::default();
        pauses.round(self.reporter.now_ms());
        loop {
            let read = tokio::select! {
                biased;
                () = self.reporter.stopped() => return self.end(tty, &mut pauses).await,
                _ = beat.tick() => None,
                read = tty.stream.read(&mut portion) => Some(read),
            };
            let pause = pauses.round(self.reporter.now_ms());
            let bytes: &[u8] = match read {
                None => &[],
                // A line that ends reads as no bytes, for ever.
                Some(Ok(0)) => return Ok(unplugged(&self.device)),
                Some(Ok(n)) => &portion[..n],
                Some(Err(e)) => return Ok(read_failed(&self.device, &e)),
            };
            match pause {
                Some(pause) => self.drop_undated(tty, pause, bytes).await?,
                None if !bytes.is_empty() => self.take(bytes).await?,
                None => {}
            }
            if bytes.is_empty() {
                self.reporter.beat();
                self.report_totals(Some(tty)).await?;
                if tty.is_gone() {
                    return Ok(unplugged(&self.device));
                }
                beats += 1;
                if beats > QUIET_BEATS && !self.diagnosis.is_told() {
                    let now_ms = self.reporter.now_ms();
                    self.reporter.back(now_ms).await?;
                }
            }
        }
    }

    /// After a pause: what waits in the line arrived at any moment of it, and
    /// nothing dates it.
    async fn drop_undated(
        &mut self,
        tty: &mut Tty,
        pause: Pause,
        bytes: &[u8],
    ) -> Result<(), Stopped> {
        let mut dropped = self.decoder.take_undated(bytes, pause.to_ms);
        let mut portion = vec![0; PORTION];
        let mut left = LAST_BYTES;
        while left > 0 {
            match tty.stream.try_read(&mut portion) {
                Ok(n @ 1..) => {
                    left = left.saturating_sub(n);
                    dropped += self.decoder.take_undated(&portion[..n], pause.to_ms);
                }
                _ => break,
            }
        }
        if dropped > 0 {
            self.reporter.paused(pause).await?;
        }
        Ok(())
    }

    async fn take(&mut self, bytes: &[u8]) -> Result<(), Stopped> {
        let t_ms = self.reporter.now_ms();
        let before = self.decoder.found();
        let good = self.decoder.take(bytes, t_ms, &mut self.items);
        if let Some(cause) = self
            .diagnosis
            .look(t_ms, good, before, self.decoder.found())
        {
            self.reporter.note(t_ms, cause.clone()).await?;
            self.reporter.lost(cause).await?;
        } else if good {
            self.backoff = Backoff::new();
            self.reporter.back(t_ms).await?;
        }
        for remark in self.decoder.remarks() {
            match remark {
                Remark::Text(text) => self.reporter.sender_text(t_ms, text).await?,
                Remark::Unknown(names) => self.reporter.unknown(t_ms, names).await?,
            }
        }
        self.reporter.items(&mut self.items).await
    }

    /// Recording ends: what has already arrived is still taken.
    async fn end(&mut self, tty: &mut Tty, pauses: &mut PauseDetector) -> Result<String, Stopped> {
        if let Some(pause) = pauses.round(self.reporter.now_ms()) {
            self.drop_undated(tty, pause, &[]).await?;
        }
        let mut portion = vec![0; PORTION];
        let mut left = LAST_BYTES;
        while left > 0 {
            match tty.stream.try_read(&mut portion) {
                Ok(n @ 1..) => {
                    left = left.saturating_sub(n);
                    self.take(&portion[..n]).await?;
                }
                _ => break,
            }
        }
        self.decoder.cut();
        self.report_totals(Some(tty)).await?;
        Err(Stopped)
    }

    async fn report_totals(&mut self, open: Option<&Tty>) -> Result<(), Stopped> {
        let line = self.line_totals.named(open);
        self.reporter.totals(self.decoder.named().chain(line)).await
    }
}
