//! Must fail: a fuzzing job that does not find this finds nothing. One comparison a byte, as a parser has them.
#![no_main]

libfuzzer_sys::fuzz_target!(|data: &[u8]| {
    let mut wanted = b"plow".iter().zip(data);
    assert!(
        data.len() < 4 || !wanted.all(|(wanted, byte)| wanted == byte),
        "the canary sings: fuzzing works"
    );
});
