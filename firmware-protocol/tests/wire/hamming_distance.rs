//! Proof that the CRC finds every pattern of up to 5 wrong bits in the longest body.
//!
//! The CRC is linear: what a set of wrong bits does to it is the XOR of what each does alone (its
//! syndrome), and a set goes unseen when that XOR is 0. Theory: Peterson & Brown 1961, Proceedings of
//! the IRE 49(1), "Cyclic codes for error detection".

use firmware_protocol::{BODY_BYTES_MAX, crc32c};

/// Syndrome of each single wrong bit in a body of the largest length: content bits, then CRC bits.
fn syndromes() -> Vec<u32> {
    let mut content = vec![0u8; BODY_BYTES_MAX - 4];
    let clean = crc32c(&content);
    let mut all = Vec::new();
    for at in 0..content.len() {
        for bit in 0..8 {
            content[at] = 1 << bit;
            all.push(crc32c(&content) ^ clean);
            content[at] = 0;
        }
    }
    all.extend((0..32).map(|bit| 1u32 << bit));
    all
}

/// Every syndrome has an odd number of ones, so the XOR of an odd number of them has too: never 0.
#[test]
fn an_odd_number_of_wrong_bits_is_always_found() {
    assert!(syndromes().iter().all(|syndrome| syndrome.count_ones() % 2 == 1));
}

/// The XORs of all pairs differ from each other and from 0: no 2 and no 4 wrong bits cancel out.
#[test]
fn two_or_four_wrong_bits_are_always_found() {
    let single = syndromes();
    assert_eq!(single.len(), BODY_BYTES_MAX * 8);
    let mut pairs = Vec::with_capacity(single.len() * single.len() / 2);
    for (n, first) in single.iter().enumerate() {
        pairs.extend(single[n + 1..].iter().map(|second| first ^ second));
    }
    pairs.sort_unstable();
    assert_ne!(pairs.first(), Some(&0));
    // Equal pairs may share a bit only if the two others are equal bits, which the line above excludes.
    assert!(pairs.windows(2).all(|two| two[0] != two[1]));
}
