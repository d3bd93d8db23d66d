//! The letters of a logger's file as UTF-8: what programs for desks write by the code page of a country is read by the
//! usual one, and told.

use encoding_rs::{Encoding, UTF_16BE, UTF_16LE, WINDOWS_1252};
use ingest::description_file::is_utf16;

const WINDOWS: &str =
    "the text is not UTF-8: its letters are read as Windows-1252 (look at ° and letters with accents)";

/// The text of these bytes, and what was taken for what, where it is not UTF-8.
pub fn as_utf8(bytes: Vec<u8>) -> (Vec<u8>, Option<&'static str>) {
    let (encoding, said): (&Encoding, _) = if is_utf16(&bytes) {
        let big_end_first = matches!(bytes.as_slice(), [0xFE, 0xFF, ..] | [0, ..]);
        (if big_end_first { UTF_16BE } else { UTF_16LE }, "the text is UTF-16")
    } else if std::str::from_utf8(&bytes).is_err() {
        (WINDOWS_1252, WINDOWS)
    } else {
        return (bytes, None);
    };
    (encoding.decode_with_bom_removal(&bytes).0.into_owned().into_bytes(), Some(said))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn letters_of_other_encodings_become_utf8_and_it_is_told() {
        let text = "t,µm,T [°C],€\n";
        let utf16 = |bytes: fn(u16) -> [u8; 2], mark: bool| {
            let units = mark.then_some(0xFEFF).into_iter().chain(text.encode_utf16());
            units.flat_map(bytes).collect::<Vec<u8>>()
        };
        let windows = b"t,\xB5m,T [\xB0C],\x80\n".to_vec();
        for (bytes, said) in [
            (text.as_bytes().to_vec(), None),
            (windows, Some("Windows-1252")),
            (utf16(u16::to_le_bytes, true), Some("UTF-16")),
            (utf16(u16::to_be_bytes, true), Some("UTF-16")),
            (utf16(u16::to_le_bytes, false), Some("UTF-16")),
        ] {
            let (read, told) = as_utf8(bytes);
            assert_eq!(String::from_utf8(read).unwrap(), text);
            assert_eq!(told.is_some(), said.is_some());
            assert!(told.unwrap_or("").contains(said.unwrap_or("")), "{told:?}");
        }
        // Half a letter at the end is no reason to fail.
        assert!(as_utf8(b"\xFF\xFEt\0,".to_vec()).1.is_some());
    }
}
