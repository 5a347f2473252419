//! A Modbus RTU station that is asked for its registers again and again.

mod ask;
mod counters;
mod line;
mod wire;

#[cfg(test)]
mod tests;

use super::backoff::Backoff;
use super::context::Stopped;
use super::reporter::SourceReporter;
use super::supervise::SourceFactory;
use super::tty::read_failed;
use crate::pause::{PAUSE_MS, Pause};
use crate::source::live::NOT_DATED;
use crate::source::{Item, Payload, summed};
use ask::{Answer, answer_ms, ask, silence};
use counters::ModbusCounters;
pub(super) use line::SharedLines;
use line::{Held, SharedLine};
use seep_common::codec::decode::{ModbusDecoder, RegisterBlock};
use seep_common::rig::{Rig, SourceKind};
use seep_common::time::BootMs;
use std::sync::Arc;
use std::time::Duration;
use tokio::time::Instant;

/// A question without a right answer is asked again so often within a round.
const RETRIES: u32 = 1;

/// The counts are told, and the device is looked for, this often.
const LOOK_EVERY: Duration = Duration::from_secs(1);

/// How a station is reached, from the rig.
#[derive(Clone)]
struct Station {
    line: Arc<SharedLine>,
    unit: u8,
    period: Duration,
    timeout: Duration,
}

/// What is needed to ask the station of a source.
pub(super) fn prepare(rig: &Rig, source: usize, lines: &mut SharedLines) -> SourceFactory {
    let ready = station(rig, source, lines).and_then(|station| {
        let decoder = ModbusDecoder::new(rig, source).map_err(|e| e.to_string())?;
        if decoder.blocks().is_empty() {
            return Err("no channel of the rig uses this source".into());
        }
        Ok((station, decoder))
    });
    Box::new(move |mut reporter| {
        let ready = ready.clone();
        Box::pin(async move {
            match ready {
                Ok((station, decoder)) => Poller::new(reporter, station, decoder).run().await,
                Err(cause) => reporter.never(cause).await,
            }
        })
    })
}

fn station(rig: &Rig, source: usize, lines: &mut SharedLines) -> Result<Station, String> {
    let line = lines.of(rig, source)?;
    let SourceKind::Modbus {
        unit_id,
        poll_ms,
        timeout_ms,
        ..
    } = &rig.sources[source].kind
    else {
        return Err("not a Modbus source".into());
    };
    Ok(Station {
        line,
        unit: *unit_id,
        period: Duration::from_millis(*poll_ms),
        timeout: Duration::from_millis(*timeout_ms),
    })
}

/// Asks one station, as long as recording goes on.
struct Poller {
    reporter: SourceReporter,
    station: Station,
    decoder: ModbusDecoder,
    counters: ModbusCounters,
    items: Vec<Item>,
    /// Readings that nothing dates; dropped.
    undated: u64,
    /// Blocks whose refusal has been noted.
    noted: Vec<bool>,
    backoff: Backoff,
    /// The last round brought nothing.
    silent: bool,
}

/// What a round of questions came to.
#[derive(Debug)]
enum Round {
    /// Registers came.
    Good,
    /// Not a single one; the last answer tells why.
    Nothing(Answer),
}

impl Poller {
    fn new(reporter: SourceReporter, station: Station, decoder: ModbusDecoder) -> Self {
        Poller {
            noted: vec![false; decoder.blocks().len()],
            reporter,
            station,
            decoder,
            counters: ModbusCounters::default(),
            items: Vec::new(),
            undated: 0,
            backoff: Backoff::new(),
            silent: false,
        }
    }

    async fn run(mut self) -> Result<(), Stopped> {
        let Err(Stopped) = self.poll().await;
        self.reporter.items(&mut self.items).await?;
        // Every holder of the line lets go of it when recording ends.
        let line = self.station.line.clone();
        let totals = self.totals(&*line.hold().await);
        self.reporter.totals(totals).await
    }

    /// Ask round after round.
    async fn poll(&mut self) -> Result<std::convert::Infallible, Stopped> {
        let mut next = Instant::now();
        let mut look = Instant::now();
        loop {
            if Instant::now() >= look {
                look = Instant::now() + LOOK_EVERY;
                self.look().await?;
            }
            match self.round().await? {
                Round::Good => {
                    self.silent = false;
                    self.backoff = Backoff::new();
                }
                Round::Nothing(last) => {
                    self.silent = true;
                    let Station { unit, line, .. } = &self.station;
                    let cause = counters::cause(*unit, &line.device, &last);
                    self.reporter.lost(cause).await?;
                    self.reporter.sleep(self.backoff.next()).await?;
                }
            }
            next = self.wait_for(next + self.station.period).await?;
        }
    }

    /// Once a second: the device, and the counts.
    async fn look(&mut self) -> Result<(), Stopped> {
        let line = self.station.line.clone();
        let mut held = self.reporter.during(line.hold()).await?;
        if held.is_gone() {
            held.close();
        }
        let totals = self.totals(&held);
        drop(held);
        self.reporter.totals(totals).await
    }

    /// Wait for the time of the next round; a round that took longer than the
    /// period shifts those after it.
    async fn wait_for(&mut self, due: Instant) -> Result<Instant, Stopped> {
        let now = Instant::now();
        if due < now {
            if !self.silent {
                self.counters.late_rounds += 1;
            }
            self.reporter.sleep(Duration::ZERO).await?;
            return Ok(now);
        }
        self.reporter.sleep(due - now).await?;
        Ok(due)
    }

    async fn round(&mut self) -> Result<Round, Stopped> {
        let mut last = None;
        let mut good = false;
        for number in 0..self.decoder.blocks().len() {
            let block = self.decoder.blocks()[number];
            let (begun_ms, answer) = self.question(block).await?;
            match answer {
                Answer::Words(events) => {
                    good = true;
                    self.take(number, block, &events, begun_ms).await?;
                }
                Answer::Refused(code) => {
                    self.refused(number, block, code).await?;
                    last = Some(answer);
                }
                // The rest of the round would only wait for the same silence.
                Answer::Nothing | Answer::LineLost(_) if !good => {
                    return Ok(Round::Nothing(answer));
                }
                Answer::LineLost(_) => return Ok(Round::Nothing(answer)),
                other => last = Some(other),
            }
        }
        self.reporter.items(&mut self.items).await?;
        Ok(match last {
            Some(last) if !good => Round::Nothing(last),
            _ => Round::Good,
        })
    }

    /// Ask, once more if needed; when asking began, and the answer.
    async fn question(&mut self, block: RegisterBlock) -> Result<(BootMs, Answer), Stopped> {
        let mut retries = if self.silent { 0 } else { RETRIES };
        loop {
            let (begun_ms, answer) = self.question_once(block).await?;
            match answer {
                Answer::Nothing | Answer::Damaged | Answer::Unsolicited if retries > 0 => {
                    retries -= 1;
                }
                _ => return Ok((begun_ms, answer)),
            }
        }
    }

    async fn question_once(&mut self, block: RegisterBlock) -> Result<(BootMs, Answer), Stopped> {
        let Station { line, unit, .. } = self.station.clone();
        let mut held = self.reporter.during(line.hold()).await?;
        let wire = match line.open(&mut held) {
            Ok(wire) => wire,
            Err(cause) => return Ok((self.reporter.now_ms(), Answer::LineLost(cause))),
        };
        self.reporter.sleep(silence(line.baud)).await?;
        self.counters.stray_bytes += wire.drain();
        let begun_ms = self.reporter.now_ms();
        let question = ask(&wire, unit, block, self.station.timeout);
        let answer = match self.reporter.during(question).await? {
            Ok(answer) => answer,
            Err(e) => Answer::LineLost(read_failed(&line.device, &e)),
        };
        drop(wire);
        self.counters.count(&answer);
        match answer {
            // Whatever still comes belongs to this question, not to the next.
            Answer::Nothing | Answer::Damaged | Answer::Unsolicited => {
                self.reporter.sleep(self.station.timeout).await?;
            }
            Answer::LineLost(_) => held.close(),
            Answer::Words(_) | Answer::Refused(_) => {}
        }
        Ok((begun_ms, answer))
    }

    /// Registers are dated when the station began to answer.
    async fn take(
        &mut self,
        number: usize,
        block: RegisterBlock,
        events: &[u16],
        begun_ms: BootMs,
    ) -> Result<(), Stopped> {
        let now_ms = self.reporter.now_ms();
        let took_ms = answer_ms(block.count, self.station.line.baud);
        let t_ms = now_ms.plus(-took_ms).max(begun_ms);
        self.reporter.back(t_ms).await?;
        let timeout_ms = i64::try_from(self.station.timeout.as_millis()).unwrap_or(i64::MAX);
        if now_ms.since(begun_ms) > timeout_ms.saturating_add(PAUSE_MS) {
            let pause = Pause {
                from_ms: begun_ms,
                to_ms: now_ms,
            };
            return self.drop_undated(number, events, pause).await;
        }
        let before = self.items.len();
        let items = &mut self.items;
        self.decoder.decode(number, events, t_ms, &mut |sample| {
            items.push(Item {
                t_ms,
                payload: Payload::Reading(sample.channel, sample.value),
            });
        });
        if self.items.len() == before {
            self.heard(t_ms);
        }
        Ok(())
    }

    /// An answer that waited while the program stood still: when it came is not
    /// known within the pause.
    async fn drop_undated(
        &mut self,
        number: usize,
        events: &[u16],
        pause: Pause,
    ) -> Result<(), Stopped> {
        let mut dropped = 0;
        (self.decoder).decode(number, events, pause.to_ms, &mut |_| dropped += 1);
        self.undated += dropped;
        if dropped > 0 {
            self.reporter.paused(pause).await?;
        }
        Ok(())
    }

    async fn refused(
        &mut self,
        number: usize,
        block: RegisterBlock,
        code: tokio_modbus::ExceptionCode,
    ) -> Result<(), Stopped> {
        let t_ms = self.reporter.now_ms();
        self.heard(t_ms);
        if counters::passes(code) || std::mem::replace(&mut self.noted[number], true) {
            return Ok(());
        }
        let text = counters::refusal(self.station.unit, block, code);
        self.reporter.note(t_ms, text).await
    }

    fn heard(&mut self, t_ms: BootMs) {
        let said = Payload::Heard(self.reporter.source() as u16);
        self.items.push(Item {
            t_ms,
            payload: said,
        });
    }

    fn totals(&self, held: &Held) -> Vec<(&'static str, u64)> {
        let mut totals = self.counters.named().to_vec();
        totals.extend(summed(self.decoder.outcomes()));
        totals.push((NOT_DATED, self.undated));
        if self.station.line.teller == self.reporter.source() {
            totals.extend(held.named());
        }
        totals
    }
}
