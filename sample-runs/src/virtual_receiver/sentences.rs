//! Sentences as receivers send them, with their checksums.

/// RMC (recommended minimum), GGA (fix data), or VTG (course and speed).
#[derive(Clone, Copy, Debug, PartialEq, Eq, clap::ValueEnum)]
pub(super) enum SentenceKind {
    Rmc,
    Gga,
    Vtg,
}

/// What is true at one moment, as the receiver rounds it: latitude is north +, longitude east +.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Epoch {
    /// UTC time of day in s, to 10 ms.
    pub(super) utc_s: f64,
    pub(super) has_fix: bool,
    pub(super) lat_deg: f64,
    pub(super) lon_deg: f64,
    pub(super) speed_mps: f64,
    pub(super) course_deg: f64,
}

/// Slower than this, in m/s, it gives no course.
const STANDS_BELOW_MPS: f64 = 0.05;
/// The date is as invented as the rest.
const DATE: &str = "110427";

/// A whole sentence with its line end.
pub(super) fn sentence(kind: SentenceKind, talker: &str, epoch: &Epoch) -> String {
    let time = time(epoch.utc_s);
    let knots = epoch.speed_mps * 3600.0 / 1852.0;
    let course =
        if epoch.speed_mps < STANDS_BELOW_MPS { String::new() } else { format!("{:.2}", epoch.course_deg) };
    let place = format!(
        "{},{},{},{}",
        degrees_minutes(epoch.lat_deg.abs(), 2),
        if epoch.lat_deg < 0.0 { 'S' } else { 'N' },
        degrees_minutes(epoch.lon_deg.abs(), 3),
        if epoch.lon_deg < 0.0 { 'W' } else { 'E' },
    );
    let body = match (kind, epoch.has_fix) {
        (SentenceKind::Rmc, true) => format!("{talker}RMC,{time},A,{place},{knots:.3},{course},{DATE},,,A"),
        (SentenceKind::Rmc, false) => format!("{talker}RMC,{time},V,,,,,,,{DATE},,,N"),
        (SentenceKind::Gga, true) => format!("{talker}GGA,{time},{place},1,09,0.9,12.0,M,46.9,M,,"),
        (SentenceKind::Gga, false) => format!("{talker}GGA,{time},,,,,0,00,99.9,,,,,,"),
        (SentenceKind::Vtg, true) => {
            format!("{talker}VTG,{course},T,,M,{knots:.3},N,{:.3},K,A", epoch.speed_mps * 3.6)
        }
        (SentenceKind::Vtg, false) => format!("{talker}VTG,,,,,,,,,N"),
    };
    let checksum = body.bytes().fold(0, |sum, byte| sum ^ byte);
    format!("${body}*{checksum:02X}\r\n")
}

/// `hhmmss.ss`.
pub(super) fn time(utc_s: f64) -> String {
    let hundredths = (utc_s * 100.0).round() as u64 % 8_640_000;
    let (second, part) = (hundredths / 100, hundredths % 100);
    format!("{:02}{:02}{:02}.{part:02}", second / 3600, second / 60 % 60, second % 60)
}

/// `ddmm.mmmmm`: the last digit is 1.8 cm.
fn degrees_minutes(degrees: f64, digits: usize) -> String {
    let minutes_e5 = (degrees * 60e5).round() as u64;
    let (whole, rest) = (minutes_e5 / 6_000_000, minutes_e5 % 6_000_000);
    format!("{whole:0digits$}{:02}.{:05}", rest / 100_000, rest % 100_000)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sentences_look_as_they_are_printed_everywhere() {
        let epoch = Epoch {
            utc_s: 45_319.0,
            has_fix: true,
            lat_deg: 48.1173,
            lon_deg: -11.516_666_666_7,
            speed_mps: 1.852,
            course_deg: 84.4,
        };
        let rmc = sentence(SentenceKind::Rmc, "GP", &epoch);
        assert!(
            rmc.starts_with("$GPRMC,123519.00,A,4807.03800,N,01131.00000,W,3.600,84.40,110427,,,A*"),
            "{rmc}"
        );
        let vtg = sentence(SentenceKind::Vtg, "GP", &Epoch { speed_mps: 0.0, ..epoch });
        assert!(vtg.starts_with("$GPVTG,,T,,M,0.000,N,0.000,K,A*") && vtg.ends_with("\r\n"), "{vtg}");
        // This one is printed with its checksum in many descriptions of NMEA 0183.
        assert_eq!(
            sentence(SentenceKind::Vtg, "GP", &Epoch { has_fix: false, ..epoch }),
            "$GPVTG,,,,,,,,,N*30\r\n"
        );
        assert_eq!(time(86_400.0), "000000.00");
        assert_eq!(degrees_minutes(59.999_999_999, 2), "6000.00000");
    }
}
