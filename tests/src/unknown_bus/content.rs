//! What the eight bytes of an identifier hold.

use super::LENGTH_MS;
use super::course::{Course, share};
use crate::seeded::Seeded;

/// One field of a frame.
enum Part {
    Constant(u8),
    Counter(u8),
    /// A counter in the high nibble.
    NibbleCounter(u8),
    Flags(u8),
    Noise,
    /// A quantity in 8, 12 or 16 bits.
    Sensor(Course, Coding),
}

#[derive(Clone, Copy, Debug)]
struct Coding {
    bits: u32,
    place: u32,
    big_endian: bool,
    scale: f64,
    offset: f64,
    noise: f64,
}

/// The parts of an identifier's payload.
pub(super) struct Content {
    parts: Vec<(usize, Part)>,
    checksum: bool,
    /// Values that the first byte takes in turn, where it selects the rest.
    selectors: u8,
    turn: u8,
    /// The sensor put in last is in the frames of this selector only.
    selected: Option<(usize, u8)>,
}

impl Content {
    /// Counters, flags, constants, noise, other sensors, often a checksum.
    pub(super) fn filler(random: &mut Seeded) -> Self {
        let mut parts = Vec::new();
        let mut byte = 0;
        while byte < 8 {
            let part = match random.below(8) {
                0 => Part::Counter(random.bits() as u8),
                1 => Part::NibbleCounter(0),
                2 => Part::Flags(random.bits() as u8),
                3 => Part::Noise,
                4 | 5 => Part::Constant(random.bits() as u8),
                _ if byte < 7 => {
                    let mut coding = Coding::any(random);
                    coding.place = 8 * byte as u32;
                    let course = Course::wander(random, LENGTH_MS);
                    parts.push((byte, Part::Sensor(course, coding)));
                    byte += 2;
                    continue;
                }
                _ => Part::Constant(0xFF),
            };
            parts.push((byte, part));
            byte += 1;
        }
        Content {
            parts,
            checksum: random.below(3) == 0,
            selectors: 0,
            turn: 0,
            selected: None,
        }
    }

    /// Put a quantity at a random place over what was there.
    pub(super) fn put(&mut self, course: Course, random: &mut Seeded, multiplexed: bool) {
        let mut coding = Coding::any(random);
        let first = 8 * u32::from(multiplexed);
        let last = if self.checksum { 56 } else { 64 } - coding.bits;
        let step = if coding.bits == 12 { 4 } else { 8 };
        let places = ((last - first) / step + 1) as usize;
        coding.place = first + step * random.below(places) as u32;
        if multiplexed {
            self.selectors = 2 + random.below(5) as u8;
            self.selected = Some((self.parts.len(), random.below(2) as u8));
        }
        self.parts.push((0, Part::Sensor(course, coding)));
    }

    /// The part put in last, in words.
    pub(super) fn last(&self) -> String {
        match self.parts.last() {
            Some((_, Part::Sensor(_, coding))) => {
                format!("{coding:?}, selected {:?}", self.selected)
            }
            _ => String::new(),
        }
    }

    pub(super) fn next(&mut self, t_ms: i64, random: &mut Seeded) -> [u8; 8] {
        let mut bytes = [0; 8];
        if self.selectors > 0 {
            self.turn = (self.turn + 1) % self.selectors;
        }
        for (i, (byte, part)) in self.parts.iter_mut().enumerate() {
            if self
                .selected
                .is_some_and(|(at, turn)| at == i && turn != self.turn)
            {
                continue;
            }
            match part {
                Part::Constant(v) => bytes[*byte] = *v,
                Part::Counter(v) => {
                    *v = v.wrapping_add(1);
                    bytes[*byte] = *v;
                }
                Part::NibbleCounter(v) => {
                    *v = (*v + 1) % 16;
                    bytes[*byte] = *v << 4 | 5;
                }
                Part::Flags(v) => {
                    if random.below(40) == 0 {
                        *v ^= 1 << random.below(8);
                    }
                    bytes[*byte] = *v;
                }
                Part::Noise => bytes[*byte] = random.bits() as u8,
                Part::Sensor(course, coding) => coding.write(course.at(t_ms), &mut bytes, random),
            }
        }
        if self.selectors > 0 {
            bytes[0] = self.turn;
        }
        if self.checksum {
            bytes[7] = bytes[..7].iter().fold(0x5A, |sum, b| sum ^ b);
        }
        bytes
    }
}

impl Coding {
    fn any(random: &mut Seeded) -> Self {
        let (bits, scales): (u32, &[f64]) = match random.below(4) {
            0 => (8, &[4.0, 5.0, 8.0]),
            1 => (12, &[0.5, 1.0]),
            _ => (16, &[0.1, 0.25, 1.0]),
        };
        Coding {
            bits,
            place: 0,
            big_endian: random.below(2) == 0,
            scale: scales[random.below(scales.len())],
            offset: [0.0, 0.0, -100.0][random.below(3)],
            noise: 2.0 * share(random),
        }
    }

    fn write(self, value: f64, bytes: &mut [u8; 8], random: &mut Seeded) {
        let value = value + self.noise * (2.0 * share(random) - 1.0);
        let most = (1u64 << self.bits) - 1;
        let raw = ((value - self.offset) / self.scale)
            .round()
            .clamp(0.0, most as f64) as u64;
        if self.big_endian {
            let shift = 64 - self.place - self.bits;
            let word = u64::from_be_bytes(*bytes) & !(most << shift) | raw << shift;
            *bytes = word.to_be_bytes();
        } else {
            let word = u64::from_le_bytes(*bytes) & !(most << self.place) | raw << self.place;
            *bytes = word.to_le_bytes();
        }
    }
}
