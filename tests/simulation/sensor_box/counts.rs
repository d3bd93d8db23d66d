//! What the sensors of a box show.

use firmware_protocol::ChannelKind;

use super::SENSORS;

/// Where the plow is.
#[derive(Clone, Copy, Debug)]
pub enum Plow {
    Lifted,
    InGround,
}

/// The counts of a row: all of them together unlike those of any other row of the boot, and of another boot.
pub fn counts_of(seed: u64, boot: u32, row: u32, channels: &[usize], plow: Option<Plow>) -> Vec<i32> {
    let count = |channel: &usize| {
        let of_boot = (seed ^ u64::from(boot)).wrapping_mul(0x9E37_79B9_7F4A_7C15) >> 40;
        // A channel of 14 bits comes round every 16,384 rows; two of them, where the last is ahead by a few more
        // each time, never.
        let ahead = if Some(channel) == channels.last() { 3 * (row >> 14) } else { 0 };
        let row = u64::from(row) + u64::from(ahead);
        let mixed = row.wrapping_mul(0x5851 + 2 * *channel as u64).wrapping_add(of_boot);
        // Within the lower half of what the converter gives, and off its end.
        let (from, bits) = match (plow, SENSORS[*channel].kind) {
            // 4 to 14 kN and 140 to 208 mm; out of the ground 10 cm above it, with any pull, as nothing else tells rows
            // of a box apart that has no other channel.
            (Some(Plow::InGround), ChannelKind::Pull) => (1_500_000, 22),
            (Some(Plow::InGround), ChannelKind::Depth) => (33_000, 13),
            (Some(Plow::Lifted), ChannelKind::Depth) => (5, 12),
            _ => (5, SENSORS[*channel].adc_bits - 2),
        };
        from + i32::try_from(mixed & ((1 << bits) - 1)).unwrap()
    };
    channels.iter().map(count).collect()
}
