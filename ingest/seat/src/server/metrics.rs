//! The state as OpenMetrics text (OpenMetrics 1.0.0), for programs that watch over programs.

use super::counts::Counts;
use crate::live::{Phase, Snapshot, TroubleKind};
use std::fmt::Write;
use std::sync::atomic::Ordering;
use strum::VariantArray;

/// What the answer says it is.
pub const CONTENT_TYPE: &str = "application/openmetrics-text; version=1.0.0; charset=utf-8";

/// Kinds of metric that we have.
#[derive(Clone, Copy)]
enum Kind {
    Gauge,
    Counter,
    Info,
    StateSet,
}

/// The text as it grows.
#[derive(Default)]
struct Text(String);

impl Text {
    /// A family; a unit is the end of its name, as the standard wants it.
    fn family(&mut self, name: &str, kind: Kind, unit: Option<&str>, help: &str) {
        let kind = match kind {
            Kind::Gauge => "gauge",
            Kind::Counter => "counter",
            Kind::Info => "info",
            Kind::StateSet => "stateset",
        };
        // Writing into a string does not fail.
        let _ = writeln!(self.0, "# TYPE hitchwright_{name} {kind}");
        if let Some(unit) = unit {
            let _ = writeln!(self.0, "# UNIT hitchwright_{name} {unit}");
        }
        let _ = writeln!(self.0, "# HELP hitchwright_{name} {}", escaped(help));
    }

    fn sample(&mut self, name: &str, labels: &[(&str, &str)], value: f64) {
        let _ = write!(self.0, "hitchwright_{name}");
        if !labels.is_empty() {
            let pairs: Vec<_> =
                labels.iter().map(|(key, text)| format!("{key}=\"{}\"", escaped(text))).collect();
            let _ = write!(self.0, "{{{}}}", pairs.join(","));
        }
        let _ = writeln!(self.0, " {value}");
    }

    fn gauge(&mut self, name: &str, unit: Option<&str>, help: &str, value: Option<f64>) {
        self.family(name, Kind::Gauge, unit, help);
        if let Some(value) = value.filter(|value| value.is_finite()) {
            self.sample(name, &[], value);
        }
    }

    fn counter(&mut self, name: &str, help: &str, value: u64) {
        self.family(name, Kind::Counter, None, help);
        self.sample(&format!("{name}_total"), &[], value as f64);
    }
}

/// As texts stand between quotes: other control characters become spaces, for not every reader takes them.
fn escaped(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '\\' => out.push_str("\\\\"),
            '"' => out.push_str("\\\""),
            '\n' => out.push_str("\\n"),
            c if c.is_control() => out.push(' '),
            c => out.push(c),
        }
    }
    out
}

fn number_of(is_so: bool) -> f64 {
    f64::from(u8::from(is_so))
}

/// The state as text.
#[must_use]
pub fn metrics(now: &Snapshot, counts: &Counts) -> String {
    let mut text = Text::default();
    text.family("build", Kind::Info, None, "The program that records.");
    text.sample("build_info", &[("version", now.program.version)], 1.0);
    text.family("phase", Kind::StateSet, None, "What the recorder is doing.");
    for phase in [Phase::Listening, Phase::StandsBy, Phase::Recording] {
        text.sample("phase", &[("hitchwright_phase", phase.into())], number_of(now.phase == phase));
    }
    of_run(&mut text, now);
    of_boxes(&mut text, now);
    text.family("trouble", Kind::Gauge, None, "Whether this is wrong now.");
    for kind in TroubleKind::VARIANTS {
        let is_so = now.troubles.iter().any(|trouble| trouble.kind == *kind);
        text.sample("trouble", &[("kind", kind.into())], number_of(is_so));
    }
    of_readings(&mut text, now);
    let free = now.disk_free_bytes.map(|bytes| bytes as f64);
    text.gauge("disk_free_bytes", Some("bytes"), "Free space where runs go.", free);
    of_server(&mut text, counts);
    text.0.push_str("# EOF\n");
    text.0
}

fn of_run(text: &mut Text, now: &Snapshot) {
    let run = now.run.as_ref();
    text.gauge("run_seconds", Some("seconds"), "Run time of this run.", run.map(|run| run.t_s));
    text.gauge("run_rows", Some("rows"), "Rows written in this run.", run.map(|run| run.rows as f64));
    let lost = run.map(|run| run.rows_lost as f64);
    text.gauge("run_lost_rows", Some("rows"), "Rows lost in this run.", lost);
    let without = run.map(|run| run.without_readings_ms as f64 / 1e3);
    let help = "Time of this run without rows that are counted as lost or refused.";
    text.gauge("run_without_readings_seconds", Some("seconds"), help, without);
    let refused = run.map(|run| run.rows_refused as f64);
    text.gauge("run_refused_rows", Some("rows"), "Rows refused in this run.", refused);
    text.gauge("run_marks", Some("marks"), "Marks set in this run.", run.map(|run| run.marks as f64));
}

fn of_boxes(text: &mut Text, now: &Snapshot) {
    let away = now.boxes.iter().filter(|sensor_box| sensor_box.away).count();
    text.gauge("boxes", Some("boxes"), "Sensor boxes.", Some(now.boxes.len() as f64));
    text.gauge("away_boxes", Some("boxes"), "Sensor boxes whose port is away.", Some(away as f64));
    text.family("box_rate_hertz", Kind::Gauge, Some("hertz"), "Rows of a box in the last second.");
    for sensor_box in &now.boxes {
        text.sample("box_rate_hertz", &[("port", &sensor_box.port)], sensor_box.rows_per_s);
    }
}

fn of_readings(text: &mut Text, now: &Snapshot) {
    let what = now.load.as_ref().map_or("Load", |load| load.name);
    text.gauge("load_newtons", Some("newtons"), &format!("Latest {what}."), now.tail_load_n);
    text.gauge("lifted", None, "Whether what carries it is lifted.", Some(number_of(now.lifted)));
    text.gauge("pull_newtons", Some("newtons"), "Latest pull.", now.pull_n);
    let depth_m = now.depth_mm.map(|mm| mm / 1000.0);
    text.gauge("depth_meters", Some("meters"), "Latest depth.", depth_m);
    let speed = "speed_meters_per_second";
    text.gauge(speed, Some("meters_per_second"), "Latest speed.", now.speed_mps);
}

fn of_server(text: &mut Text, counts: &Counts) {
    let get = |counter: &std::sync::atomic::AtomicU64| counter.load(Ordering::Relaxed);
    text.gauge("viewers", Some("viewers"), "Who look on now.", Some(get(&counts.viewers) as f64));
    let open = Some(get(&counts.connections) as f64);
    text.gauge("connections", Some("connections"), "Connections open now.", open);
    for (name, help, counter) in [
        ("viewers_dropped", "Viewers that did not keep up.", &counts.viewers_dropped),
        ("viewers_refused", "Viewers that were too many.", &counts.viewers_refused),
        ("connections_dropped", "Connections that made room for others.", &counts.connections_dropped),
        ("wishes", "Wishes passed on.", &counts.wishes),
        ("hosts_refused", "Requests under a name that is not ours.", &counts.hosts_refused),
        ("origins_refused", "Requests from pages of others.", &counts.origins_refused),
        ("tokens_refused", "Requests without a right token.", &counts.tokens_refused),
    ] {
        text.counter(name, help, get(counter));
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::live::{Choice, Live};
    use ingest::plow::read_plow;
    use std::collections::BTreeMap;
    use std::path::{Path, PathBuf};

    const ODD: &str = "/dev/a\"b\\c\n<script>\u{1b}[2J";

    fn text() -> String {
        let plow = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../sample-runs/plows/two-bottom.toml");
        let live = Live::new(read_plow(&plow).unwrap(), &[PathBuf::from(ODD)], Choice::default());
        let mut now = live.snapshot();
        now.pull_n = Some(f64::NAN);
        now.tail_load_n = Some(612.5);
        metrics(&now, &Counts::default())
    }

    /// The name of a sample, its labels as they are meant, and its value.
    fn parsed(line: &str) -> (String, Vec<(String, String)>, f64) {
        let end = line.find(['{', ' ']).unwrap();
        let (name, mut rest) = line.split_at(end);
        assert!(name.chars().all(|c| c.is_ascii_alphanumeric() || c == '_'), "{line}");
        let mut labels = Vec::new();
        if let Some(inside) = rest.strip_prefix('{') {
            let mut characters = inside.char_indices();
            let (mut key, mut value, mut quoted) = (String::new(), String::new(), false);
            let end = loop {
                let (at, c) = characters.next().expect("a brace that is closed");
                match (c, quoted) {
                    ('\\', true) => value.push(match characters.next().unwrap().1 {
                        'n' => '\n',
                        c @ ('"' | '\\') => c,
                        c => panic!("\\{c} in {line}"),
                    }),
                    ('"', true) => {
                        labels.push((std::mem::take(&mut key), std::mem::take(&mut value)));
                        quoted = false;
                    }
                    (c, true) => value.push(c),
                    ('"', false) => quoted = true,
                    ('=' | ',', false) => {}
                    ('}', false) => break at,
                    (c, false) => key.push(c),
                }
            };
            rest = &inside[end + 1..];
        }
        (name.to_owned(), labels, rest.strip_prefix(' ').unwrap().parse().unwrap())
    }

    /// What OpenMetrics 1.0.0 demands of the text, as far as ours goes.
    #[test]
    fn the_text_keeps_to_the_standard() {
        let text = text();
        assert!(text.ends_with("# EOF\n") && text.matches("# EOF").count() == 1 && !text.contains("\n\n"));
        let (mut kinds, mut family): (BTreeMap<String, String>, _) = (BTreeMap::new(), String::new());
        for line in text.lines().filter(|line| *line != "# EOF") {
            if let Some(about) = line.strip_prefix("# ") {
                let mut words = about.splitn(3, ' ');
                let (what, name, rest) =
                    (words.next().unwrap(), words.next().unwrap(), words.next().unwrap());
                match what {
                    "TYPE" => {
                        family = name.to_owned();
                        assert!(kinds.insert(family.clone(), rest.to_owned()).is_none(), "{name} twice");
                    }
                    "UNIT" => assert!(name == family && name.ends_with(&format!("_{rest}")), "{line}"),
                    "HELP" => assert_eq!(name, family),
                    _ => panic!("{line}"),
                }
                continue;
            }
            let (name, labels, value) = parsed(line);
            let suffix = name.strip_prefix(&family).unwrap_or_else(|| panic!("{line} in {family}"));
            match kinds[&family].as_str() {
                "counter" => assert!(suffix == "_total" && value >= 0.0, "{line}"),
                "info" => assert!(suffix == "_info" && value == 1.0, "{line}"),
                "stateset" => {
                    assert!(suffix.is_empty() && labels.len() == 1 && labels[0].0 == family, "{line}");
                }
                _ => assert!(suffix.is_empty() && value.is_finite(), "{line}"),
            }
        }
        assert!(kinds.len() > 20);
    }

    #[test]
    fn a_name_from_outside_stays_in_its_quotes_and_no_reading_is_no_sample() {
        let text = text();
        let line = text.lines().find(|line| line.starts_with("hitchwright_box_rate_hertz{")).unwrap();
        let (_, labels, _) = parsed(line);
        assert_eq!(labels, [("port".to_owned(), ODD.replace('\u{1b}', " "))]);
        assert!(!text.contains("NaN") && !text.contains("\nhitchwright_pull_newtons "));
        assert!(text.contains("\nhitchwright_load_newtons 612.5\n"));
        assert!(text.contains("\nhitchwright_phase{hitchwright_phase=\"listening\"} 1\n"));
    }
}
