//! Values that others have published.

use firmware_protocol::{CobsError, cobs_decode_in_place, cobs_encode, crc32c};

fn hex(text: &str) -> Vec<u8> {
    text.split_whitespace().map(|byte| u8::from_str_radix(byte, 16).unwrap()).collect()
}

fn check_cobs(body: &[u8], coded: &[u8]) {
    let mut out = vec![0; 300];
    let used = cobs_encode(body, &mut out).unwrap();
    assert_eq!(&out[..used], coded);
    assert_eq!(cobs_decoded(coded), Ok(body.to_vec()));
}

fn cobs_decoded(coded: &[u8]) -> Result<Vec<u8>, CobsError> {
    let mut bytes = coded.to_vec();
    let len = cobs_decode_in_place(&mut bytes)?;
    bytes.truncate(len);
    Ok(bytes)
}

/// Source: Cheshire & Baker 1999, IEEE/ACM Transactions on Networking 7(2), example table as reprinted in
/// the documentation of COBS packages.
#[test]
fn cobs_examples_of_the_paper() {
    for (body, coded) in [
        ("00", "01 01"),
        ("00 00", "01 01 01"),
        ("00 11 00", "01 02 11 01"),
        ("11 22 00 33", "03 11 22 02 33"),
        ("11 22 33 44", "05 11 22 33 44"),
        ("11 00 00 00", "02 11 01 01 01"),
        ("", "01"),
        ("31 32 33 34 35 00 36 37 38 39", "06 31 32 33 34 35 05 36 37 38 39"),
    ] {
        check_cobs(&hex(body), &hex(coded));
    }
}

/// Source: as above; the long cases around a full block of 254 bytes.
#[test]
fn cobs_examples_with_full_blocks() {
    let run = |from: u8, to: u8| (from..=to).collect::<Vec<u8>>();
    check_cobs(&run(1, 0xFE), &[vec![0xFF], run(1, 0xFE)].concat());
    check_cobs(&[vec![0], run(1, 0xFE)].concat(), &[vec![1, 0xFF], run(1, 0xFE)].concat());
    check_cobs(&run(1, 0xFF), &[vec![0xFF], run(1, 0xFE), vec![2, 0xFF]].concat());
    check_cobs(&[run(2, 0xFF), vec![0]].concat(), &[vec![0xFF], run(2, 0xFF), vec![1, 1]].concat());
    check_cobs(&[run(3, 0xFF), vec![0, 1]].concat(), &[vec![0xFE], run(3, 0xFF), vec![2, 1]].concat());
    // Some encoders close a final full block with an empty one; both forms are right.
    assert_eq!(cobs_decoded(&[vec![0xFF], run(1, 0xFE), vec![1]].concat()), Ok(run(1, 0xFE)));
}

#[test]
fn what_is_not_cobs_is_refused() {
    assert_eq!(cobs_decoded(&[3, 0x11]), Err(CobsError::Truncated));
    assert_eq!(cobs_decoded(&[0]), Err(CobsError::Zero));
    assert_eq!(cobs_decoded(&[2, 0x11, 0, 5]), Err(CobsError::Zero));
    assert_eq!(cobs_decoded(&[0xFF; 254]), Err(CobsError::Truncated));
    assert_eq!(cobs_decoded(&[]), Ok(vec![]));
}

/// Source: RevEng catalogue of parametrised CRC algorithms, CRC-32/ISCSI: check value, and the value of
/// nothing, which is init XOR final XOR. The others are in RFC 3720 appendix B.4 (iSCSI); from memory.
#[test]
fn crc_check_values() {
    assert_eq!(crc32c(b"123456789"), 0xE306_9283);
    assert_eq!(crc32c(b""), 0);
    assert_eq!(crc32c(&[0; 32]), 0x8A91_36AA);
    assert_eq!(crc32c(&[0xFF; 32]), 0x62A8_AB43);
    let rising: Vec<u8> = (0..32).collect();
    assert_eq!(crc32c(&rising), 0x46DD_794E);
}
