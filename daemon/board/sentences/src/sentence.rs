//! Sentences of NMEA 0183, made in place.

/// Longest sentence, `$` and line end included, bytes (NMEA 0183).
pub const LONGEST_SENTENCE: usize = 82;

/// `*hh` and the line end.
const CLOSING_BYTES: usize = 5;

/// Room for one measurement, bytes; longer names are cut.
const LONGEST_MEASUREMENT: usize = 38;

/// Collects measurements and closes a sentence whenever the next measurement
/// would make it too long. Finished sentences go to `sink`, which returns false
/// when it has no room for all of one.
///
/// ```
/// use seep_board::Sentences;
/// let mut sent = [0u8; 82];
/// let mut length = 0;
/// let mut sentences = Sentences::default();
/// let mut sink = |bytes: &[u8]| {
///     sent[..bytes.len()].copy_from_slice(bytes);
///     length = bytes.len();
///     true
/// };
/// sentences.volts(22_841, "TANK", &mut sink);
/// sentences.close(&mut sink);
/// assert_eq!(&sent[..length], b"$YXXDR,U,2.2841,V,TANK*4F\r\n");
/// ```
#[derive(Debug, Clone)]
pub struct Sentences {
    line: [u8; LONGEST_SENTENCE],
    length: usize,
    refused: u32,
}

impl Default for Sentences {
    fn default() -> Self {
        Sentences {
            line: [0; LONGEST_SENTENCE],
            length: 0,
            refused: 0,
        }
    }
}

/// Text of one measurement.
struct Text {
    bytes: [u8; LONGEST_MEASUREMENT],
    length: usize,
}

impl Text {
    fn new() -> Self {
        Text {
            bytes: [0; LONGEST_MEASUREMENT],
            length: 0,
        }
    }

    fn put(&mut self, more: &str) -> &mut Self {
        for &byte in more.as_bytes() {
            if self.length < LONGEST_MEASUREMENT {
                self.bytes[self.length] = byte;
                self.length += 1;
            }
        }
        self
    }

    fn decimal(&mut self, mut value: u32, decimals: usize) -> &mut Self {
        let mut digits = [b'0'; 12];
        let mut count = 0;
        while value > 0 || count <= decimals {
            digits[count] = b'0' + (value % 10) as u8;
            value /= 10;
            count += 1;
        }
        while count > 0 {
            if count == decimals {
                self.put(".");
            }
            count -= 1;
            if self.length < LONGEST_MEASUREMENT {
                self.bytes[self.length] = digits[count];
                self.length += 1;
            }
        }
        self
    }

    fn bytes(&self) -> &[u8] {
        &self.bytes[..self.length]
    }
}

impl Sentences {
    /// Adds volts with four decimals; `value_100uv` in 0.1 mV.
    pub fn volts(&mut self, value_100uv: u32, name: &str, sink: &mut dyn FnMut(&[u8]) -> bool) {
        let mut text = Text::new();
        text.put(",U,").decimal(value_100uv, 4);
        text.put(",V,").put(name);
        self.measurement(text.bytes(), sink);
    }

    /// Adds a switch: 1 on, 0 off.
    pub fn on_off(&mut self, on: bool, name: &str, sink: &mut dyn FnMut(&[u8]) -> bool) {
        let mut text = Text::new();
        text.put(if on { ",S,1,," } else { ",S,0,," }).put(name);
        self.measurement(text.bytes(), sink);
    }

    /// Adds a temperature in 0.01 °C; the field is empty without a reading.
    pub fn celsius(
        &mut self,
        value_0_01c: Option<i32>,
        name: &str,
        sink: &mut dyn FnMut(&[u8]) -> bool,
    ) {
        let mut text = Text::new();
        text.put(",C,");
        if let Some(value) = value_0_01c {
            if value < 0 {
                text.put("-");
            }
            text.decimal(value.unsigned_abs(), 2);
        }
        text.put(",C,").put(name);
        self.measurement(text.bytes(), sink);
    }

    /// Sends a line of text (TXT).
    pub fn text(&mut self, words: &str, sink: &mut dyn FnMut(&[u8]) -> bool) {
        self.text_and_number(words, None, sink);
    }

    /// Sends a line of text that ends in a whole number.
    pub fn text_and_number(
        &mut self,
        words: &str,
        number: Option<u32>,
        sink: &mut dyn FnMut(&[u8]) -> bool,
    ) {
        self.close(sink);
        self.append(b"$YXTXT,01,01,00,");
        self.append(words.as_bytes());
        if let Some(number) = number {
            let mut text = Text::new();
            text.decimal(number, 0);
            self.append(text.bytes());
        }
        self.close(sink);
    }

    /// Ends the sentence that is open.
    pub fn close(&mut self, sink: &mut dyn FnMut(&[u8]) -> bool) {
        if self.length == 0 {
            return;
        }
        let sum = self.line[1..self.length].iter().fold(0, |sum, b| sum ^ b);
        let digit = |n: u8| b"0123456789ABCDEF"[usize::from(n)];
        let closing = [b'*', digit(sum >> 4), digit(sum & 15), b'\r', b'\n'];
        let end = self.length + CLOSING_BYTES;
        self.line[self.length..end].copy_from_slice(&closing);
        if !sink(&self.line[..end]) {
            self.refused += 1;
        }
        self.length = 0;
    }

    /// Sentences that found no room.
    #[must_use]
    pub fn refused(&self) -> u32 {
        self.refused
    }

    fn measurement(&mut self, text: &[u8], sink: &mut dyn FnMut(&[u8]) -> bool) {
        if self.length > 0 && self.length + text.len() + CLOSING_BYTES > LONGEST_SENTENCE {
            self.close(sink);
        }
        if self.length == 0 {
            self.append(b"$YXXDR");
        }
        self.append(text);
    }

    fn append(&mut self, bytes: &[u8]) {
        for &byte in bytes {
            if self.length < LONGEST_SENTENCE - CLOSING_BYTES {
                self.line[self.length] = byte;
                self.length += 1;
            }
        }
    }
}
