use super::*;
use proptest::prelude::*;

fn read(body: &str) -> Sentence {
    read_sentence(body).unwrap().unwrap()
}

const HMS_123519_US: u64 = ((12 * 60 + 35) * 60 + 19) * 1_000_000;

/// The three examples that are printed in many descriptions of NMEA 0183. Their values by arithmetic:
/// 48° 7.038' = 48.1173°, 11° 31' = 11.516667°, 22.4 kn = 22.4 × 1852/3600 m/s.
#[test]
fn printed_examples() {
    let rmc = read("GPRMC,123519,A,4807.038,N,01131.000,E,022.4,084.4,230394,003.1,W");
    assert_eq!((rmc.kind, rmc.talker, rmc.tag_us), (SentenceKind::Rmc, *b"GP", Some(HMS_123519_US)));
    let position = rmc.position.unwrap();
    assert!((position.lat_deg - 48.1173).abs() < 1e-9 && (position.lon_deg - 11.516_666_667).abs() < 1e-9);
    assert!((rmc.speed_mps.unwrap() - 11.523_556).abs() < 1e-6);
    assert_eq!(rmc.course_deg, Some(84.4));
    let gga = read("GPGGA,123519,4807.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,");
    assert_eq!((gga.tag_us, gga.position, gga.has_fix), (rmc.tag_us, rmc.position, true));
    let vtg = read("GPVTG,054.7,T,034.4,M,005.5,N,010.2,K");
    assert!((vtg.speed_mps.unwrap() - 2.829_444).abs() < 1e-6);
    assert_eq!((vtg.course_deg, vtg.tag_us), (Some(54.7), None));
    let west = read("GPRMC,225446,A,4916.45,N,12311.12,W,000.5,054.7,191194,020.3,E").position.unwrap();
    assert!((west.lat_deg - 49.274_166_7).abs() < 1e-6 && (west.lon_deg + 123.185_333_3).abs() < 1e-6);
    let south = read("GPRMC,081836,A,3751.65,S,14507.36,E,000.0,360.0,130998,011.3,E");
    assert!((south.position.unwrap().lat_deg + 37.860_833_3).abs() < 1e-6);
    assert_eq!((south.speed_mps, south.course_deg), (Some(0.0), Some(0.0)));
}

/// What a general-purpose parser of these sentences (the crate `nmea`) loses or lets through, and why this
/// one is our own.
#[test]
fn what_receivers_send_and_what_no_receiver_means() {
    let kmh = read("GPVTG,054.7,T,,M,,N,010.2,K");
    assert!((kmh.speed_mps.unwrap() - 10.2 / 3.6).abs() < 1e-12, "speed in km/h alone");
    assert!(read("GPGGA,123519,4807.038,N,01131.000,E,9,08,0.9,545.4,M,46.9,M,,").has_fix, "quality 9");
    let leap = read("GPRMC,235960.50,A,4807.038,N,01131.000,E,022.4,084.4,311216,,,A");
    assert_eq!(leap.tag_us, Some(86_400_500_000), "a leap second");
    assert!(!read("GPRMC,123519,V,,N,,E,,,230394,,,N").has_fix, "no fix, letters left");
    for nonsense in [
        "GPRMC,123519.00,A,48inf,N,011nan,E,1.0,2.0,230394,003.1,W",
        "GPRMC,123519.00,A,4807.038,N,01131.000,E,nan,inf,230394,003.1,W",
        "GPRMC,123519,A,9999.99,N,25599.0,E,1.0,084.4,230394,,,A",
        "GPRMC,123519,A,4807.038,N,01131.000,E,1e3,084.4,230394,,,A",
        "GPRMC,123519,A,4807.038,N,01131.000,E,1000,084.4,230394,,,A",
        "GPRMC,123519,A,4807.038,N,01131.000,E,1.0,360.1,230394,,,A",
        "GPRMC,123519,A,48-7.038,N,01131.000,E,1.0,1.0,230394,,,A",
        "GPRMC,123519,A,+807.038,N,01131.000,E,1.0,1.0,230394,,,A",
        "GPRMC,123519,A,4807.038,X,01131.000,E,1.0,1.0,230394,,,A",
        "GPRMC,123519,A,,,,,1.0,1.0,230394,,,A",
        "GPRMC,243519,A,4807.038,N,01131.000,E,1.0,1.0,230394,,,A",
        "GPRMC,1235.5,A,4807.038,N,01131.000,E,1.0,1.0,230394,,,A",
        "GPRMC,123561,A,4807.038,N,01131.000,E,1.0,1.0,230394,,,A",
        "GPRMC,126019,A,4807.038,N,01131.000,E,1.0,1.0,230394,,,A",
        "GPRMC,123519,A,4807.03800000000000000,N,01131.000,E,1.0,1.0,230394,,,A",
        "GPRMC,123519,B,4807.038,N,01131.000,E,1.0,1.0,230394,,,A",
        "GPRMC,123519,A",
        "GPGGA,123519,4807.038,N,01131.000,E,,08",
        "GPGGA,123519",
        "GPVTG,054.7",
        "GPVTG,054.7,T,,M,-1.0,N,010.2,K",
    ] {
        assert_eq!(read_sentence(nonsense), Err(Malformed), "{nonsense}");
    }
}

#[test]
fn without_a_measured_fix_there_is_no_reading() {
    let empty = read("GNRMC,,V,,,,,,,,,,N,V");
    assert_eq!((empty.tag_us, empty.has_fix, &empty.talker), (None, false, b"GN"));
    for mode in ["N", "E", "M", "S", "C"] {
        let rmc = read(&format!("GPRMC,123519,A,4807.038,N,01131.000,E,022.4,084.4,230394,,,{mode}"));
        assert_eq!((rmc.has_fix, rmc.position, rmc.speed_mps), (false, None, None), "{mode}");
        let vtg = read(&format!("GPVTG,054.7,T,034.4,M,005.5,N,010.2,K,{mode}"));
        assert_eq!((vtg.has_fix, vtg.speed_mps), (false, None), "{mode}");
    }
    for quality in ["0", "6", "7", "8"] {
        let gga = read(&format!("GPGGA,123519,4807.038,N,01131.000,E,{quality},08,0.9,545.4,M,46.9,M,,"));
        assert_eq!((gga.has_fix, gga.position), (false, None), "{quality}");
    }
    let standing = read("GPRMC,123519,A,4807.038,N,01131.000,E,0.004,,230394,,,A");
    assert_eq!((standing.course_deg, standing.has_fix), (None, true));
}

#[test]
fn any_talker_is_read_and_other_sentences_are_not() {
    for talker in ["GP", "GN", "GL", "GA", "GB", "BD", "QZ", "GI"] {
        assert_eq!(&read(&format!("{talker}VTG,,,,,,,,,N")).talker[..], talker.as_bytes());
    }
    for other in ["GPGSA,A,3", "HEHDT,274.07,T", "PHTWR,1", "PXRMC,1", "gpRMC,1", "GPRMCX,1", "", ",", "é"] {
        assert_eq!(read_sentence(other), Ok(None), "{other}");
    }
}

/// Bodies that look like sentences, with fields from all that might be in them.
fn body() -> impl Strategy<Value = String> {
    let field = prop_oneof![
        "[0-9]{0,6}(\\.[0-9]{0,4})?",
        "[0-9]{4}\\.[0-9]{1,4}",
        "[0-9]{5}\\.[0-9]{1,4}",
        "[0-2][0-9][0-5][0-9][0-5][0-9](\\.[0-9]{1,3})?",
        "[ADVNSEWTMK0-9]?",
        "[ -~]{0,8}",
        "\\PC{0,4}",
    ];
    let kind = prop_oneof![Just("GPRMC"), Just("GNGGA"), Just("BDVTG"), Just("GPGSV")];
    (kind, proptest::collection::vec(field, 0..16))
        .prop_map(|(kind, fields)| format!("{kind},{}", fields.join(",")))
}

/// Sentences as receivers send them.
fn sound_body() -> impl Strategy<Value = String> {
    let place = (0u32..90, 0f64..59.99, 0u32..180, 0f64..59.99, any::<bool>(), any::<bool>());
    let moving = (0f64..30.0, 0f64..359.9, 0u32..86_400);
    (place, moving, 0u8..3).prop_map(
        |((lat, lat_min, lon, lon_min, south, west), (knots, course, second), kind)| {
            let time = format!("{:02}{:02}{:02}.00", second / 3600, second / 60 % 60, second % 60);
            let (ns, ew) = (if south { "S" } else { "N" }, if west { "W" } else { "E" });
            let place = format!("{lat:02}{lat_min:07.4},{ns},{lon:03}{lon_min:07.4},{ew}");
            match kind {
                0 => format!("GPRMC,{time},A,{place},{knots:.3},{course:.2},010127,,,A"),
                1 => format!("GPGGA,{time},{place},1,08,0.9,12.0,M,46.9,M,,"),
                _ => format!("GPVTG,{course:.2},T,,M,{knots:.3},N,{:.3},K,A", knots * 1.852),
            }
        },
    )
}

proptest! {
    #[test]
    fn nothing_panics_and_what_is_read_is_in_range(body in prop_oneof![body(), "\\PC{0,100}"]) {
        if let Ok(Some(sentence)) = read_sentence(&body) {
            if let Some(Position { lat_deg, lon_deg }) = sentence.position {
                prop_assert!(lat_deg.abs() <= 90.0 && lon_deg.abs() <= 180.0);
            }
            prop_assert!(sentence.speed_mps.is_none_or(|speed| (0.0..=SPEED_MPS_MAX).contains(&speed)));
            prop_assert!(sentence.course_deg.is_none_or(|course| (0.0..360.0).contains(&course)));
            prop_assert!(sentence.tag_us.is_none_or(|tag| tag < 86_401_000_000));
        }
    }

    /// The crate `nmea` is the reference here, an implementation by others: what it and this one read of a
    /// sound sentence is the same to what its 32-bit speeds hold.
    #[test]
    fn sound_sentences_are_read_as_the_reference_reads_them(body in sound_body()) {
        let line = crate::script::nmea_line(&body);
        let ours = read_sentence(&body).unwrap().unwrap();
        let near = |a: Option<f64>, b: Option<f64>, to: f64| match (a, b) {
            (Some(a), Some(b)) => (a - b).abs() <= to,
            (a, b) => a.is_none() && b.is_none(),
        };
        let knots = ours.speed_mps.map(|mps| mps * 3600.0 / 1852.0);
        let time_s = |time: Option<chrono::NaiveTime>| {
            time.map(|time| f64::from(chrono::Timelike::num_seconds_from_midnight(&time)))
        };
        let our_time_s = ours.tag_us.map(|us| us as f64 / 1e6);
        let (lat, lon) = (ours.position.map(|p| p.lat_deg), ours.position.map(|p| p.lon_deg));
        let same = match nmea::parse_str(line.trim_end()).unwrap() {
            nmea::ParseResult::RMC(rmc) => {
                near(lat, rmc.lat, 1e-9) && near(lon, rmc.lon, 1e-9)
                    && near(knots, rmc.speed_over_ground.map(f64::from), 1e-5)
                    && near(ours.course_deg, rmc.true_course.map(f64::from), 1e-4)
                    && our_time_s == time_s(rmc.fix_time)
            }
            nmea::ParseResult::GGA(gga) => {
                near(lat, gga.latitude, 1e-9) && near(lon, gga.longitude, 1e-9)
                    && our_time_s == time_s(gga.fix_time)
            }
            nmea::ParseResult::VTG(vtg) => {
                near(knots, vtg.speed_over_ground.map(f64::from), 1e-5)
                    && near(ours.course_deg, vtg.true_course.map(f64::from), 1e-4)
            }
            other => { prop_assert!(false, "{:?}", other); false }
        };
        prop_assert!(same, "{} {:?}", body, ours);
    }
}
