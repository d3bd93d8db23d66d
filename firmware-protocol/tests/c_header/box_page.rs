//! What README says of a box and its line, in numbers and in bytes to type.

use firmware_protocol::{Frame, Readings, Status, Time};

use crate::samples::{page, table, wire};

/// Bytes that a box sends in a second of full flow.
fn bytes_a_second(rows_a_second: usize, channels: usize) -> usize {
    let rows_that_fit = firmware_protocol::COUNTS_MAX / channels;
    let rows = (rows_a_second / 10).clamp(1, rows_that_fit);
    let len = |frame: Frame| wire(&frame).len();
    let readings =
        len(Frame::Readings(Readings::new(1, 1, 1, channels, &vec![-1; rows * channels]).unwrap()));
    let status =
        len(Frame::Status(Status { uptime_ms: 1, rows_dropped: 0, supply_mv: 1, temperature_centi_c: 1 }));
    let time = len(Frame::Time(Time { token: 1, clock_us: 1 }));
    (rows_a_second * readings).div_ceil(rows) + status + time
}

#[test]
fn the_table_of_rates_is_what_the_frames_take() {
    let page = page();
    let rates = table(&page, "| rows a second |");
    assert_eq!(rates.len(), 6);
    for row in rates {
        let expected: Vec<usize> = [1, 2, 3, 4, 6, 8].map(|channels| bytes_a_second(row[0], channels)).into();
        assert_eq!(row[1..], expected, "{} rows a second", row[0]);
    }
    let bauds = table(&page, "| baud |");
    assert_eq!(bauds.len(), 7);
    for row in bauds {
        assert_eq!(row[1..], [row[0] / 10, row[0] / 10 * 4 / 5]);
    }
}

/// Each `printf` of the page sends the frame that its comment names.
#[test]
fn what_is_to_be_typed_at_a_terminal_are_frames() {
    let page = page();
    let typed: Vec<(String, Vec<u8>)> = page
        .lines()
        .filter_map(|line| line.strip_prefix("printf '\\")?.split_once("' > /dev/ttyUSB0"))
        .map(|(octal, comment)| {
            let bytes = octal.split('\\').map(|byte| u8::from_str_radix(byte, 8).unwrap()).collect();
            let name: String =
                comment.trim_start_matches([' ', '#']).chars().take_while(char::is_ascii_lowercase).collect();
            (name, bytes)
        })
        .collect();
    let expected = [
        ("start".to_string(), wire(&Frame::Start)),
        ("ping".to_string(), wire(&Frame::Ping { token: 0xDEAD_BEEF })),
        ("stop".to_string(), wire(&Frame::Stop)),
    ];
    assert_eq!(typed, expected);
}
