//! How much damage the one byte of a sentence's checksum lets through: README's figures, measured.
//!
//! An XOR finds every single wrong bit. Two wrong bits in the same column of two characters cancel out; if
//! both characters are still digits, a wrong number has a right checksum. What is wrong in the number or the
//! clock of a row shows against the rows around it; what is wrong in a count does not.

use std::thread;

use firmware_protocol::{Frame, Readings, TextDecoder};

use super::lines::{hello, lines, more_text_events, rows};
use crate::samples::{page, table};

/// Sentences damaged for each number of wrong bits.
const TRIES: u32 = 1_000_000;

/// The same sequence each time (xorshift of Marsaglia 2003, Journal of Statistical Software 8(14)).
struct Random(u64);

impl Random {
    fn below(&mut self, bound: usize) -> usize {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        (self.0 >> 20) as usize % bound
    }
}

fn row(number: u32, counts: &[i32]) -> Vec<u8> {
    let readings = Readings::new(number, number.wrapping_mul(10_000), 10_000, 2, counts).unwrap();
    lines(&Frame::Readings(readings))
}

/// Of rows of which each has this many wrong bits: how many were taken with other counts, how many with a clock
/// that is off by less than half of what rows are apart, and how many with one that is off by more or with
/// another number.
fn passed(wrong_bits: usize) -> [usize; 3] {
    let mut random = Random(0x9E37_79B9_7F4A_7C15);
    let mut decoder = TextDecoder::new();
    more_text_events(&mut decoder, &lines(&hello(1)));
    let [mut wrong_counts, mut moved_a_little, mut elsewhere] = [0; 3];
    for tried in 0..TRIES {
        // Good, damaged, good, good, so that each damaged row has good ones around it.
        let first = 4 * tried;
        let counts = |n: u32| [n.wrapping_mul(2_654_435_761) as i32 >> 8, (n % 1024) as i32];
        let mut damaged = row(first + 1, &counts(first + 1));
        let mut bits: Vec<usize> = Vec::new();
        while bits.len() < wrong_bits {
            let bit = random.below(damaged.len() * 8);
            if !bits.contains(&bit) {
                bits.push(bit);
                damaged[bit / 8] ^= 1 << (bit % 8);
            }
        }
        let good = [first, first + 2, first + 3].map(|n| row(n, &counts(n)));
        let bytes = [&good[0][..], &damaged, &good[1], &good[2]].concat();
        for (number, clock_us, got) in rows(&more_text_events(&mut decoder, &bytes)) {
            let off_us = clock_us.wrapping_sub(number.wrapping_mul(10_000)) as i32;
            if number / 4 != tried || off_us.abs() >= 5_000 {
                elsewhere += 1;
            } else if off_us != 0 {
                moved_a_little += 1;
            } else if got != counts(number) {
                wrong_counts += 1;
            }
        }
    }
    [wrong_counts, moved_a_little, elsewhere]
}

#[test]
fn what_the_checksum_lets_through_is_what_the_page_says() {
    let measuring = [1, 2, 3].map(|bits| (bits, thread::spawn(move || passed(bits))));
    let measured: Vec<Vec<usize>> =
        measuring.into_iter().map(|(bits, taken)| [&[bits], &taken.join().unwrap()[..]].concat()).collect();
    // Wrong bits, and what [`passed`] gives.
    assert_eq!(measured, table(&page(), "| wrong bits in a row |"));
}
