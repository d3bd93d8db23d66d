//! Faults of the line, drawn from a seed: frames that are lost, doubled or damaged.

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

use super::Faults;

/// What becomes of a frame on its way; its name in the truth file.
#[derive(Clone, Copy, Debug, PartialEq, Eq, strum::Display)]
#[strum(serialize_all = "lowercase")]
pub(crate) enum Fate {
    /// It goes onto the line.
    Sent,
    /// It goes onto the line twice.
    Doubled,
    /// It goes onto the line with wrong bits in it.
    Damaged,
    /// It never leaves the box.
    Dropped,
    /// The cable is out.
    Unplugged,
    /// Nobody has the port open.
    Nobody,
    /// The box reset before it could go out.
    Reset,
}

/// Draws the faults. Each kind has its own stream, so that asking for one leaves the others as they were.
#[derive(Debug)]
pub(crate) struct Damage {
    drop_frames: f64,
    dup_frames: f64,
    flip_bits: f64,
    jitter_ms: f64,
    drops: ChaCha8Rng,
    dups: ChaCha8Rng,
    flips: ChaCha8Rng,
    delays: ChaCha8Rng,
    /// Good bits until the next wrong one.
    good_bits: u64,
}

impl Damage {
    pub(crate) fn new(faults: &Faults, seed: u64) -> Self {
        let stream = |purpose| ChaCha8Rng::seed_from_u64(crate::seed_for(seed, purpose));
        let mut damage = Self {
            drop_frames: faults.drop_frames,
            dup_frames: faults.dup_frames,
            flip_bits: faults.flip_bits,
            jitter_ms: faults.jitter_ms,
            drops: stream(200),
            dups: stream(201),
            flips: stream(202),
            delays: stream(203),
            good_bits: 0,
        };
        damage.good_bits = damage.draw_good_bits();
        damage
    }

    /// How many bits stay right before the next wrong one: geometric, so that a rare fault costs one
    /// draw a fault and not one a bit.
    fn draw_good_bits(&mut self) -> u64 {
        if self.flip_bits <= 0.0 {
            return u64::MAX;
        }
        let u: f64 = 1.0 - self.flips.random::<f64>(); // above 0, at most 1
        // At a probability of 1 this is 0/−∞ = 0: every bit is wrong. The cast holds at the ends.
        (u.ln() / (-self.flip_bits).ln_1p()) as u64
    }

    /// What happens to the next *readings* frame before it meets the line.
    pub(crate) fn next_frame(&mut self) -> Fate {
        // Both are drawn each time, so that the shares do not move each other's frames.
        let dropped = self.drops.random::<f64>() < self.drop_frames;
        let doubled = self.dups.random::<f64>() < self.dup_frames;
        match (dropped, doubled) {
            (true, _) => Fate::Dropped,
            (false, true) => Fate::Doubled,
            (false, false) => Fate::Sent,
        }
    }

    /// Turns bits around as the line would, and says whether any was.
    pub(crate) fn flip(&mut self, bytes: &mut [u8]) -> bool {
        let bits = bytes.len() as u64 * 8;
        let mut at = 0;
        let mut any = false;
        while self.good_bits < bits - at {
            at += self.good_bits;
            // `at` is below 8 times the length, so the byte is there and the cast is exact.
            if let Some(byte) = bytes.get_mut((at / 8) as usize) {
                *byte ^= 1 << (at % 8);
            }
            any = true;
            at += 1;
            self.good_bits = self.draw_good_bits();
        }
        if self.good_bits != u64::MAX {
            self.good_bits -= bits - at;
        }
        any
    }

    /// How late the next frame is, in s of the pass.
    pub(crate) fn delay_s(&mut self) -> f64 {
        if self.jitter_ms > 0.0 { self.delays.random::<f64>() * self.jitter_ms / 1000.0 } else { 0.0 }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_faults_change_nothing() {
        let mut damage = Damage::new(&Faults::default(), 1);
        let mut bytes = [0x5A; 1000];
        for _ in 0..100 {
            assert_eq!(damage.next_frame(), Fate::Sent);
            assert!(!damage.flip(&mut bytes));
            assert_eq!(damage.delay_s(), 0.0);
        }
        assert_eq!(bytes, [0x5A; 1000]);
    }

    #[test]
    fn shares_are_what_was_asked_for_whatever_the_chunking() {
        let faults = Faults { drop_frames: 0.1, dup_frames: 0.2, flip_bits: 1e-3, ..Faults::default() };
        let mut damage = Damage::new(&faults, 3);
        let fates: Vec<Fate> = (0..20_000).map(|_| damage.next_frame()).collect();
        let share = |fate| fates.iter().filter(|f| **f == fate).count() as f64 / 20_000.0;
        assert!((share(Fate::Dropped) - 0.1).abs() < 0.01);
        assert!((share(Fate::Doubled) - 0.9 * 0.2).abs() < 0.01);
        // 1 Mbit in chunks of two sizes: the same bits are wrong, about one in a thousand.
        let run = |chunk: usize| {
            let mut damage = Damage::new(&faults, 3);
            let mut bytes = vec![0u8; 125_000];
            bytes.chunks_mut(chunk).for_each(|part| {
                damage.flip(part);
            });
            bytes
        };
        let bytes = run(200);
        assert_eq!(bytes, run(7));
        let wrong: u32 = bytes.iter().map(|b| b.count_ones()).sum();
        assert!((850..1150).contains(&wrong), "{wrong}");
    }

    #[test]
    fn every_bit_can_be_wrong() {
        let mut damage = Damage::new(&Faults { flip_bits: 1.0, ..Faults::default() }, 3);
        let mut bytes = [0u8; 64];
        assert!(damage.flip(&mut bytes));
        assert_eq!(bytes, [0xFF; 64]);
    }
}
