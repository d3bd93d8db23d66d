//! Speed of the wire on one core: a stream of full *readings* frames, 6 channels by 9 rows.
//!
//! `cargo bench -p firmware-protocol`; the goal for decoding is 200 MB/s.
#![allow(missing_docs)] // criterion's macros make public functions

use std::hint::black_box;

use criterion::{BenchmarkId, Criterion, Throughput, criterion_group, criterion_main};
use firmware_protocol::{Decoder, Event, Frame, Readings, encode};

const CHANNELS: usize = 6;
const ROWS: usize = 9;
const FRAMES: u32 = 1000;

/// Counts as unsigned converters of `bits` bits give them: noise of 1/256 of the range around mid-scale, by
/// a linear congruential generator (Numerical Recipes' constants) so that the stream is always the same.
fn frames(bits: u32) -> Vec<Frame> {
    let mut state = 1u32;
    let mut count = move || {
        state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        (1i32 << (bits - 1)) + (state >> (32 + 8 - bits)) as i32
    };
    (0..FRAMES)
        .filter_map(|n| {
            let counts: Vec<i32> = (0..CHANNELS * ROWS).map(|_| count()).collect();
            let first_row = n * 9;
            Readings::new(first_row, first_row * 1000, 1000, CHANNELS, &counts).ok()
        })
        .map(Frame::Readings)
        .collect()
}

fn stream(frames: &[Frame]) -> Vec<u8> {
    frames.iter().flat_map(|frame| encode(frame).as_bytes().to_vec()).collect()
}

fn decode_all(decoder: &mut Decoder, bytes: &[u8], chunk: usize) -> u64 {
    let mut rows = 0;
    for mut input in bytes.chunks(chunk) {
        while let Some(event) = decoder.next_event(&mut input) {
            if let Event::Frame(Frame::Readings(readings)) = black_box(&event) {
                rows += readings.row_count() as u64;
            }
        }
    }
    rows
}

fn decode(c: &mut Criterion) {
    let mut group = c.benchmark_group("decode");
    for (bits, chunk) in [(12, 4096), (16, 4096), (24, 4096), (24, 64)] {
        let bytes = stream(&frames(bits));
        let mut decoder = Decoder::new();
        assert_eq!(decode_all(&mut decoder, &bytes, chunk), u64::from(FRAMES) * ROWS as u64);
        group.throughput(Throughput::Bytes(bytes.len() as u64));
        group.bench_with_input(
            BenchmarkId::new(format!("{bits}-bit counts"), format!("reads of {chunk} B")),
            &bytes,
            |b, bytes| b.iter(|| decode_all(&mut decoder, black_box(bytes), chunk)),
        );
    }
    group.finish();
}

fn encoding(c: &mut Criterion) {
    let frames = frames(24);
    let mut group = c.benchmark_group("encode");
    group.throughput(Throughput::Bytes(stream(&frames).len() as u64));
    group.bench_function("24-bit counts", |b| {
        b.iter(|| {
            frames.iter().map(|frame| black_box(encode(black_box(frame))).as_bytes().len()).sum::<usize>()
        });
    });
    group.finish();
}

criterion_group! {
    name = benches;
    config = Criterion::default()
        .warm_up_time(std::time::Duration::from_millis(500))
        .measurement_time(std::time::Duration::from_secs(2));
    targets = decode, encoding
}
criterion_main!(benches);
