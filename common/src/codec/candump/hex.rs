//! Hexadecimal digits.

/// Value of each hexadecimal digit, 255 for anything else.
pub(in crate::codec) const NIBBLE: [u8; 256] = {
    let mut table = [255; 256];
    let mut i = 0;
    while i < 10 {
        table[b'0' as usize + i] = i as u8;
        i += 1;
    }
    let mut i = 0;
    while i < 6 {
        table[b'A' as usize + i] = 10 + i as u8;
        table[b'a' as usize + i] = 10 + i as u8;
        i += 1;
    }
    table
};
