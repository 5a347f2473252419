//! From samples to sentences.

use crate::mean::Mean;
use crate::pace::{Pace, STEP_MS, STEPS_AT_REST};
use crate::sentence::Sentences;

/// Names of the transducers, in the order of the samples.
#[derive(Debug, Clone, Copy)]
pub struct Names<const ANALOGUE: usize, const SWITCHES: usize> {
    /// Name and version, sent once after each start.
    pub board: &'static str,
    /// Analogue inputs.
    pub analogue: [&'static str; ANALOGUE],
    /// Valves and compressors.
    pub switches: [&'static str; SWITCHES],
    /// Temperature; `None` when the board has no such sensor.
    pub temperature: Option<&'static str>,
}

/// What a count of the converter means, and how much of it is movement.
#[derive(Debug, Clone, Copy)]
pub struct Scale {
    /// Voltage at the highest count, 0.1 mV.
    pub reference_100uv: u32,
    /// Highest count.
    pub highest_count: u32,
    /// A mean of 100 ms that differs by more than this has moved, 0.1 mV.
    pub moved_100uv: u32,
}

/// One board: samples in, sentences out.
///
/// Every value is the mean of all samples since the last one sent; a switch is
/// on when it was on at any moment since then.
#[derive(Debug, Clone)]
pub struct Board<const ANALOGUE: usize, const SWITCHES: usize> {
    names: Names<ANALOGUE, SWITCHES>,
    scale: Scale,
    sentences: Sentences,
    pace: Pace,
    step_mean: [Mean; ANALOGUE],
    sent_mean: [Mean; ANALOGUE],
    compared_100uv: Option<[u32; ANALOGUE]>,
    step_on: [bool; SWITCHES],
    sent_on: [bool; SWITCHES],
    was_on: [bool; SWITCHES],
    steps_waiting: u8,
    step_began_ms: u32,
    refused_told: u32,
}

impl<const ANALOGUE: usize, const SWITCHES: usize> Board<ANALOGUE, SWITCHES> {
    /// A board that starts at `now_ms`; sends its name and version.
    pub fn start(
        names: Names<ANALOGUE, SWITCHES>,
        scale: Scale,
        now_ms: u32,
        sink: &mut dyn FnMut(&[u8]) -> bool,
    ) -> Self {
        let mut sentences = Sentences::default();
        sentences.text(names.board, sink);
        Board {
            names,
            scale,
            sentences,
            pace: Pace::default(),
            step_mean: [Mean::default(); ANALOGUE],
            sent_mean: [Mean::default(); ANALOGUE],
            compared_100uv: None,
            step_on: [false; SWITCHES],
            sent_on: [false; SWITCHES],
            was_on: [false; SWITCHES],
            steps_waiting: 0,
            step_began_ms: now_ms,
            refused_told: 0,
        }
    }

    /// Sends name and version again, to a reader that has just come.
    pub fn introduce(&mut self, sink: &mut dyn FnMut(&[u8]) -> bool) {
        self.sentences.text(self.names.board, sink);
    }

    /// Takes one sample of every input: counts, and true for a switch that is on.
    pub fn sample(&mut self, counts: &[u16; ANALOGUE], on: &[bool; SWITCHES]) {
        for (mean, &count) in self.step_mean.iter_mut().zip(counts) {
            mean.add(count.into());
        }
        for (latched, &on) in self.step_on.iter_mut().zip(on) {
            *latched |= on;
        }
    }

    /// True when [`step`](Self::step) is due.
    #[must_use]
    pub fn is_due(&self, now_ms: u32) -> bool {
        now_ms.wrapping_sub(self.step_began_ms) >= STEP_MS
    }

    /// Ends a step of 100 ms and sends what is due. `temperature_0_01c` is read
    /// only when something is sent.
    pub fn step(
        &mut self,
        now_ms: u32,
        temperature_0_01c: &mut dyn FnMut() -> Option<i32>,
        sink: &mut dyn FnMut(&[u8]) -> bool,
    ) {
        self.step_began_ms = self.step_began_ms.wrapping_add(STEP_MS);
        let was_fast = self.pace.is_fast(now_ms);
        if self.has_moved() {
            self.pace.moved(now_ms);
        }
        let fast = self.pace.is_fast(now_ms);
        if fast && !was_fast {
            // What waited belongs to the rest before.
            self.send(temperature_0_01c, sink);
        }
        for (sent, step) in self.sent_mean.iter_mut().zip(&mut self.step_mean) {
            sent.merge(core::mem::take(step));
        }
        for (sent, step) in self.sent_on.iter_mut().zip(&mut self.step_on) {
            *sent |= core::mem::take(step);
        }
        self.steps_waiting += 1;
        if fast || self.steps_waiting >= STEPS_AT_REST {
            self.send(temperature_0_01c, sink);
            self.tell_refused(sink);
        }
    }

    fn has_moved(&mut self) -> bool {
        let Scale {
            reference_100uv,
            highest_count,
            moved_100uv,
        } = self.scale;
        let now_100uv = self
            .step_mean
            .map(|mean| mean.value_100uv(reference_100uv, highest_count));
        let compared_100uv = self.compared_100uv.get_or_insert(now_100uv);
        let mut moved = false;
        for (known, now) in compared_100uv.iter_mut().zip(now_100uv) {
            if known.abs_diff(now) > moved_100uv {
                moved = true;
                *known = now;
            }
        }
        for (was, &on) in self.was_on.iter_mut().zip(&self.step_on) {
            moved |= on || on != *was;
            *was = on;
        }
        moved
    }

    /// Sends everything since the last sentences.
    fn send(
        &mut self,
        temperature_0_01c: &mut dyn FnMut() -> Option<i32>,
        sink: &mut dyn FnMut(&[u8]) -> bool,
    ) {
        if self.steps_waiting == 0 {
            return;
        }
        let (reference, highest) = (self.scale.reference_100uv, self.scale.highest_count);
        for (mean, name) in self.sent_mean.iter_mut().zip(self.names.analogue) {
            let value_100uv = core::mem::take(mean).value_100uv(reference, highest);
            self.sentences.volts(value_100uv, name, sink);
        }
        for (on, name) in self.sent_on.iter_mut().zip(self.names.switches) {
            self.sentences.on_off(core::mem::take(on), name, sink);
        }
        if let Some(name) = self.names.temperature {
            self.sentences.celsius(temperature_0_01c(), name, sink);
        }
        self.sentences.close(sink);
        self.steps_waiting = 0;
    }

    fn tell_refused(&mut self, sink: &mut dyn FnMut(&[u8]) -> bool) {
        let refused = self.sentences.refused();
        if refused != self.refused_told {
            self.refused_told = refused;
            // As many digits as the sketch in C++ has room for.
            let shown = Some(refused % 10_000_000);
            let words = "sentences dropped on the board: ";
            self.sentences.text_and_number(words, shown, sink);
        }
    }
}
