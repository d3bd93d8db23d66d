//! Frames to try things on, and small helpers that all these tests share.

use std::fs;
use std::path::Path;

use firmware_protocol::{
    CHANNELS_MAX, COUNTS_MAX, Channel, ChannelKind, Decoder, Event, Frame, Hello, Label, Mark, MarkSource,
    Readings, Status, Time, encode,
};
use proptest::collection::vec;
use proptest::prelude::*;

/// The bytes of a frame on the wire, its 0x00 included.
pub fn wire(frame: &Frame) -> Vec<u8> {
    encode(frame).as_bytes().to_vec()
}

/// A body with any content, given a good CRC and framed: what a box with a faulty program could send.
pub fn wire_of(content: &[u8]) -> Vec<u8> {
    let mut body = content.to_vec();
    body.extend(firmware_protocol::crc32c(content).to_le_bytes());
    wire_of_body(&body)
}

/// A body, CRC and all, framed.
pub fn wire_of_body(body: &[u8]) -> Vec<u8> {
    let mut bytes = vec![0; body.len() + body.len() / 254 + 1];
    let used = firmware_protocol::cobs_encode(body, &mut bytes).unwrap();
    bytes.truncate(used);
    bytes.push(0);
    bytes
}

/// The body of a frame on the wire, its CRC included.
pub fn body(wire: &[u8]) -> Vec<u8> {
    let mut bytes = wire[..wire.len() - 1].to_vec();
    let len = firmware_protocol::cobs_decode_in_place(&mut bytes).unwrap();
    bytes.truncate(len);
    bytes
}

/// All that a fresh decoder says about `bytes` taken in one piece.
pub fn events(bytes: &[u8]) -> Vec<Event> {
    more_events(&mut Decoder::new(), bytes)
}

/// All that `decoder` says about `bytes` taken in one piece.
pub fn more_events(decoder: &mut Decoder, mut bytes: &[u8]) -> Vec<Event> {
    std::iter::from_fn(|| decoder.next_event(&mut bytes)).collect()
}

/// The frames among the events.
pub fn frames(events: &[Event]) -> Vec<Frame> {
    events.iter().filter_map(|e| if let Event::Frame(frame) = e { Some(*frame) } else { None }).collect()
}

/// A channel of a box for six-channel tests.
pub fn channel(name: &str, kind: ChannelKind) -> Channel {
    Channel { name: Label::new(name).unwrap(), kind, adc_bits: 24, rate_mhz: 1_000_000 }
}

/// Every field at its largest.
pub fn largest_hello() -> Frame {
    let mut table = [Channel::default(); CHANNELS_MAX];
    for (n, channel) in table.iter_mut().enumerate() {
        let name = Label::new(&format!("abcdefghijk{n}")).unwrap();
        *channel = Channel { name, kind: ChannelKind::Other(u8::MAX), adc_bits: 32, rate_mhz: u32::MAX };
    }
    let (serial, name) = (Label::new(&"s".repeat(16)).unwrap(), Label::new(&"n".repeat(24)).unwrap());
    Frame::Hello(Hello::new(u32::MAX, (255, 255, 255), u32::MAX, serial, name, &table).unwrap())
}

/// One frame of each kind, of middling size.
pub fn one_of_each() -> Vec<Frame> {
    let table = [channel("pull", ChannelKind::Pull), channel("tail", ChannelKind::TailDeflection)];
    let (serial, name) = (Label::new("0042").unwrap(), Label::new("plow box").unwrap());
    vec![
        Frame::Hello(Hello::new(7, (1, 2, 3), 1_000_000, serial, name, &table).unwrap()),
        Frame::Readings(Readings::new(500, 12_000_000, 1000, 2, &[1200, -35, 0, 8_388_607]).unwrap()),
        Frame::Mark(Mark { clock_us: 12_003_004, source: MarkSource::Button, number: 3 }),
        Frame::Status(Status {
            uptime_ms: 13_000,
            rows_dropped: 0,
            supply_mv: 12_600,
            temperature_centi_c: -250,
        }),
        Frame::Time(Time { token: 0xDEAD_BEEF, clock_us: 12_004_321 }),
        Frame::Ping { token: 0xDEAD_BEEF },
        Frame::Start,
        Frame::Stop,
        Frame::Rate { row_rate_mhz: 500_000 },
    ]
}

/// Any printable text of `from` to `N` bytes.
fn any_label<const N: usize>(from: usize) -> impl Strategy<Value = Label<N>> {
    vec(0x20u8..=0x7E, from..=N).prop_map(|text| Label::from_bytes(&text).unwrap())
}

fn any_channel(index: usize) -> impl Strategy<Value = Channel> {
    // The first character tells the channels of one table apart.
    let name = vec(0x20u8..=0x7E, 0..12).prop_map(move |mut text| {
        text.insert(0, b'a' + u8::try_from(index).unwrap());
        Label::from_bytes(&text).unwrap()
    });
    (name, any::<u8>(), 1u8..=32, 1u32..).prop_map(|(name, code, adc_bits, rate_mhz)| Channel {
        name,
        kind: ChannelKind::from_code(code),
        adc_bits,
        rate_mhz,
    })
}

fn any_hello() -> impl Strategy<Value = Frame> {
    let table = (1..=CHANNELS_MAX).prop_flat_map(|n| (0..n).map(any_channel).collect::<Vec<_>>());
    (any::<u32>(), any::<(u8, u8, u8)>(), 1u32.., any_label(0), any_label(0), table, any::<u8>()).prop_map(
        |(boot, firmware, rate, serial, name, table, minor)| {
            let mut hello = Hello::new(boot, firmware, rate, serial, name, &table).unwrap();
            hello.version.1 = minor;
            Frame::Hello(hello)
        },
    )
}

fn any_readings() -> impl Strategy<Value = Frame> {
    // Counts near 0 as well as any: zeros are what COBS has to work for.
    let count = prop_oneof![any::<i32>(), -300i32..300, Just(0), Just(-1)];
    (any::<(u32, u32)>(), 1u32.., 1..=CHANNELS_MAX)
        .prop_flat_map(move |(start, interval, channels)| {
            let rows = 1..=COUNTS_MAX / channels;
            let counts = rows.prop_flat_map({
                let count = count.clone();
                move |rows| vec(count.clone(), rows * channels)
            });
            (Just((start, interval, channels)), counts)
        })
        .prop_map(|((start, interval, channels), counts)| {
            Frame::Readings(Readings::new(start.0, start.1, interval, channels, &counts).unwrap())
        })
}

/// Any frame that a right program can send.
pub fn any_frame() -> impl Strategy<Value = Frame> {
    let source = prop_oneof![Just(MarkSource::Button), Just(MarkSource::Host)];
    prop_oneof![
        any_hello(),
        any_readings(),
        (any::<u32>(), source, any::<u16>()).prop_map(|(clock_us, source, number)| Frame::Mark(Mark {
            clock_us,
            source,
            number
        })),
        any::<(u32, u32, u16, i16)>().prop_map(
            |(uptime_ms, rows_dropped, supply_mv, temperature_centi_c)| {
                Frame::Status(Status { uptime_ms, rows_dropped, supply_mv, temperature_centi_c })
            }
        ),
        any::<(u32, u32)>().prop_map(|(token, clock_us)| Frame::Time(Time { token, clock_us })),
        any::<u32>().prop_map(|token| Frame::Ping { token }),
        Just(Frame::Start),
        Just(Frame::Stop),
        (1u32..).prop_map(|row_rate_mhz| Frame::Rate { row_rate_mhz }),
    ]
}

/// `bytes` cut at the places that `cuts` name (each a fraction of 65536 of the length).
pub fn pieces<'a>(bytes: &'a [u8], cuts: &[u16]) -> impl Iterator<Item = &'a [u8]> {
    let mut at: Vec<usize> = cuts.iter().map(|cut| usize::from(*cut) * bytes.len() / 65536).collect();
    at.sort_unstable();
    let ends = at.clone().into_iter().chain([bytes.len()]);
    std::iter::once(0).chain(at).zip(ends).map(|(from, to)| &bytes[from..to])
}

/// README: the page is the specification.
pub fn page() -> String {
    fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join("README.md")).unwrap()
}

/// The numbers of the page's table whose head begins like this, row after row.
pub fn table(page: &str, head: &str) -> Vec<Vec<usize>> {
    let lines = page.lines().skip_while(|line| !line.starts_with(head)).skip(2);
    let number = |cell: &str| cell.trim().replace(',', "").parse().unwrap();
    lines
        .take_while(|line| line.starts_with('|'))
        .map(|line| line.trim_matches('|').split('|').map(number).collect())
        .collect()
}
