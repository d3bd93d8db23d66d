//! Invented contents for the tests of this folder: nothing here was measured.

use std::f64::consts::TAU;

use page::comparison_content::{ComparisonContent, ComparisonRow};
use page::content::*;
use page::statics_content::{HoleRow, HoleTable, StaticsContent};

/// A title of ordinary length.
pub const TITLE: &str = "low hole 4";

fn strings(all: &[&str]) -> Vec<String> {
    all.iter().map(|s| (*s).to_owned()).collect()
}

fn fact(name: &str, value: &str) -> Fact {
    Fact { name: name.to_owned(), value: value.to_owned() }
}

pub fn head(title: &str) -> Head {
    Head {
        title: title.to_owned(),
        plow: "two-bottom trailed plow".to_owned(),
        facts: vec![
            fact("field", "invented long field"),
            fact("soil", "clay loam, moist"),
            fact("shares", "sharp"),
            fact("plow hole", "4 of 7"),
            fact("tractor hole", "2 of 5"),
            fact("note", "stubble, light rain before"),
        ],
        date: Some(jiff::civil::date(2027, 4, 11)),
    }
}

pub fn foot() -> Foot {
    Foot {
        provenance: strings(&[
            "Run 2027-04-11T0914_low-hole-4",
            "hitchwright 0.1.0",
            "calibrations: pull 2027-03-02, tail 2027-03-02, depth 2027-03-03",
            "seed 7",
        ]),
        safety: strings(&[
            "Nobody rides on or walks beside a moving plow to read a sensor.",
            "Engine off, plow lowered and blocked before touching hitch, wheels or cables.",
            "Keep hands off a turning tail wheel.",
            "Load cells and pins must be rated for shock load, with a safety chain beside them.",
            "Figures support, and do not replace, the operator's manual, local rules and qualified judgment.",
        ]),
    }
}

fn arrow(x_n: f64, z_n: f64, label: &str) -> Arrow {
    Arrow { force: ForceN { x_n, z_n }, label: label.to_owned() }
}

fn point(x_m: f64, z_m: f64) -> PointM {
    PointM { x_m, z_m }
}

pub fn forces() -> ForceDiagram {
    ForceDiagram {
        front: Support { contact: point(0.0, 0.0), look: SupportLook::Wheel { diameter_m: 0.6 } },
        tail: Support { contact: point(-2.1, -0.18), look: SupportLook::Wheel { diameter_m: 0.4 } },
        members: Vec::new(),
        weight_at: point(-0.75, 0.35),
        plow_hitch: point(0.35, 0.32),
        tractor_hitch: point(1.9, 0.36),
        tractor_hitch_name: "tractor hitch".to_owned(),
        soil_at: point(-0.9, -0.08),
        shares_first: false,
        steady: Some(point(-0.75, 0.18)),
        depth_m: 0.18,
        weight: arrow(0.0, -3400.0, "weight 3.4 kN"),
        pull: arrow(6100.0, 157.0, "pull 6.1 kN"),
        soil: arrow(-6100.0, -900.0, "soil force 6.2 kN"),
        front_load: arrow(0.0, 2900.0, "front load 2.9 kN"),
        tail_load: arrow(0.0, 640.0, "tail load 0.64 kN"),
        offset_label: Some("e = 112 mm".to_owned()),
        length_scale: ScaleBar { size: 0.5, label: "0.5 m".to_owned() },
        force_scale: ScaleBar { size: 2000.0, label: "2 kN".to_owned() },
    }
}

/// A wave with noise of a simple kind, cut at the gaps given in s.
pub fn segments(mean: f64, swing: f64, gaps_s: &[(f64, f64)]) -> Vec<Segment> {
    let mut all = vec![Segment::default()];
    let mut state = 1u32;
    for i in 0..18_000u32 {
        let t_s = f64::from(i) * 0.01;
        state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        let noise = f64::from(state >> 8) / f64::from(1u32 << 24) - 0.5;
        let value = mean + swing * ((TAU * 1.4 * t_s).sin() * 0.5 + (TAU * 0.03 * t_s).sin() * 0.6 + noise);
        if gaps_s.iter().any(|(a, b)| (*a..*b).contains(&t_s)) {
            if all.last().is_some_and(|s| !s.t_s.is_empty()) {
                all.push(Segment::default());
            }
        } else if let Some(last) = all.last_mut() {
            last.t_s.push(t_s);
            last.values.push(value);
        }
    }
    all
}

fn strip(name: &str, unit: &str, mean: f64, swing: f64, gaps_s: &[(f64, f64)]) -> Strip {
    Strip {
        name: name.to_owned(),
        unit: unit.to_owned(),
        segments: segments(mean, swing, gaps_s),
        mean: Some(mean),
        p5: Some(mean - 0.9 * swing),
        p95: Some(mean + 0.9 * swing),
        hatched_s: Vec::new(),
        hatch_name: "lifted".to_owned(),
        downward: false,
        zero_line: false,
    }
}

pub fn spectrum(bobbing: bool) -> Spectrum {
    let frequency_hz: Vec<f64> = (1..1000).map(|i| f64::from(i) * 0.05).collect();
    let background: Vec<f64> = frequency_hz.iter().map(|f| 40_000.0 / (1.0 + (f / 0.8).powi(2))).collect();
    let density: Vec<f64> = frequency_hz
        .iter()
        .zip(&background)
        .enumerate()
        .map(|(i, (f, b))| {
            let ripple = 1.0 + 0.35 * ((i * 7919 % 101) as f64 / 50.0 - 1.0);
            let peak = if bobbing { 90_000.0 / (1.0 + ((f - 1.42) / 0.12).powi(2)) } else { 0.0 };
            b * ripple + peak
        })
        .collect();
    Spectrum {
        name: "tail load".to_owned(),
        unit: "N²/Hz".to_owned(),
        low: density.iter().map(|d| d * 0.7).collect(),
        high: density.iter().map(|d| d * 1.5).collect(),
        frequency_hz,
        density,
        background,
        bobbing: bobbing.then(|| Mark { frequency_hz: 1.42, label: "bobbing 1.42 Hz".to_owned() }),
        no_bobbing: "no bobbing shown".to_owned(),
        wheel_turns: vec![
            Mark { frequency_hz: 0.82, label: "front wheel turn".to_owned() },
            Mark { frequency_hz: 1.24, label: "tail wheel turn".to_owned() },
        ],
    }
}

pub fn scatter() -> Scatter {
    let pulls = segments(6.1, 1.2, &[]);
    let loads = segments(0.64, 0.3, &[]);
    let points =
        pulls[0].values.iter().zip(loads[0].values.iter().rev()).map(|(x, y)| (*x, y - 0.12 * (x - 6.1)));
    let line =
        |label: &str, look, slope| SlopeLine { label: label.to_owned(), look, through: (6.1, 0.64), slope };
    Scatter {
        x: AxisName { name: "pull".to_owned(), unit: "kN".to_owned() },
        y: AxisName { name: "tail load".to_owned(), unit: "kN".to_owned() },
        points: points.collect(),
        expected: vec![
            line("flat", LineLook::Flat, -0.25),
            line("balanced", LineLook::Balanced, 0.02),
            line("steep", LineLook::Steep, 0.28),
        ],
        measured: Some(line("measured", LineLook::Measured, -0.12)),
        note: "Lines of the statics for low hole 4.".to_owned(),
    }
}

pub fn figures() -> Vec<FigureRow> {
    let rows = [
        ("pull, mean", "6.10", "5.95 to 6.26", "kN"),
        ("pull, SD", "0.81", "0.74 to 0.90", "kN"),
        ("depth, mean", "181", "178 to 184", "mm"),
        ("depth, SD", "9.4", "8.1 to 11.0", "mm"),
        ("depth, 5th to 95th percentile", "166 to 197", "not shown", "mm"),
        ("tail load, mean", "640", "610 to 672", "N"),
        ("tail load, coefficient of variation", "0.31", "0.27 to 0.36", ""),
        ("lifted time", "2.1", "1.2 to 3.4", "%"),
        ("longest lift", "0.42", "not shown", "s"),
        ("bobbing frequency", "1.42", "1.38 to 1.46", "Hz"),
        ("bobbing, RMS in the band", "180", "150 to 214", "N"),
        ("gain, pull to tail load", "−0.12", "−0.15 to −0.09", "N/N"),
        ("gain expected by statics", "−0.13", "−0.17 to −0.08", "N/N"),
        ("pull-line offset e", "112", "64 to 158", "mm"),
        ("balance index b", "+0.71", "+0.48 to +0.93", ""),
        ("tail share", "0.18", "0.16 to 0.20", ""),
        ("soil slope σ", "−0.15", "−0.24 to −0.05", ""),
    ];
    let row = |r: (&str, &str, &str, &str)| FigureRow {
        name: r.0.to_owned(),
        value: r.1.to_owned(),
        interval: r.2.to_owned(),
        unit: r.3.to_owned(),
    };
    rows.into_iter().map(row).collect()
}

/// A full page of ordinary content.
pub fn run(title: &str) -> RunContent {
    let depth = Strip { downward: true, ..strip("depth", "mm", 181.0, 9.4, &[(61.0, 63.5), (120.0, 120.4)]) };
    let lifts = vec![(22.1, 22.6), (58.0, 59.1), (96.0, 96.2), (150.0, 152.5)];
    let tail = Strip {
        hatched_s: lifts,
        zero_line: true,
        ..strip("tail load", "N", 640.0, 420.0, &[(61.0, 63.5), (120.0, 120.4)])
    };
    RunContent {
        head: head(title),
        verdict: Verdict {
            subject: "drawbar".to_owned(),
            word: "too flat".to_owned(),
            look: VerdictLook::Far,
            neighbor: Some(
                "The line of pull passes too high, so pulling takes weight off the tail wheel.".to_owned(),
            ),
            note: None,
            reasons: strings(&[
                "The wheels carry 0.3 m ahead of the weight: the pull line passes 112 mm above the steady point.",
                "The tail wheel was lifted for 2.1 % of the time.",
                "The measured gain agrees with statics.",
            ]),
        },
        gauge: Some(Gauge {
            value: 0.71,
            low: 0.48,
            high: 0.93,
            balanced: 0.25,
            leaning: 0.6,
            front: "front wheels",
            tail: "tail wheel",
            set_aside: false,
        }),
        forces: Some(forces()),
        depth: Some(depth),
        tail_load: Some(tail),
        spectrum: Some(spectrum(true)),
        pull_tail: Some(scatter()),
        figures: figures(),
        advice: vec![WhatToDo {
            order: "Move the plow's end down from hole 9 to hole 4 (102 mm above the land). Engine off, plow lowered \
                    and blocked before touching hitch, wheels or cables."
                .to_owned(),
            expectation: Some(
                "The next pass should show: balance index +0.10 (-0.02 to +0.21), tail wheel 1120 N (1040 to 1200)."
                    .to_owned(),
            ),
        }],
        causes: strings(&[
            "Hitch too flat, shown: chance 98 %, balance index +0.71 (+0.48 to +0.93).",
            "Tail wheel out of round, likely: the tail load has a peak at 1.24 Hz, where the wheel turns once (1.23 Hz).",
        ]),
        order_of_work: "Order of work: shares, landside, tail wheel, vertical hitch, sideways hitch, depth."
            .to_owned(),
        quality: strings(&[
            "1000 readings a second, 179,940 of 180,000 used, 2 gaps (2.9 s).",
            "Working part from 12.0 s to 192.0 s.",
            "No saturated or stuck channel.",
        ]),
        cautions: strings(&[
            "The soil slope was taken from the share condition, not measured; it dominates the interval of b.",
            "Sample run of an invented field.",
        ]),
        foot: foot(),
    }
}

/// Names and notes as long as anyone may write them, everything that can be missing missing.
pub fn hardest() -> RunContent {
    let long = "the setting with the long name that somebody typed without thinking of the page ".repeat(4);
    let unbroken = "Donaudampfschiff".repeat(20);
    let mut content = run(&long);
    content.head.plow = unbroken.clone();
    content.head.facts.push(fact("note", &long));
    content.head.facts.push(fact("weather", &unbroken));
    content.verdict = Verdict {
        subject: "line of pull".to_owned(),
        word: "leaning steep".to_owned(),
        look: VerdictLook::Open,
        neighbor: Some(long.clone()),
        note: Some(long.clone()),
        reasons: vec![long.clone(); 9],
    };
    content.gauge = None;
    content.forces = None;
    content.pull_tail = None;
    content.spectrum = Some(spectrum(false));
    let gaps: Vec<(f64, f64)> = (0..60).map(|i| (f64::from(i) * 3.0, f64::from(i) * 3.0 + 0.7)).collect();
    content.depth = Some(strip("depth", "mm", 181.0, 9.4, &gaps));
    content.figures.extend(figures().into_iter().take(6).map(|mut row| {
        row.name = unbroken.clone();
        row.value = "not shown".to_owned();
        row.interval = "not shown".to_owned();
        row
    }));
    let to_do = |order: &String| WhatToDo { order: order.clone(), expectation: Some(long.clone()) };
    content.advice = [&long, &unbroken, &long, &long, &long].map(to_do).to_vec();
    content.causes = vec![long.clone(), unbroken.clone(), long.clone()];
    content.quality = vec![long.clone(); 7];
    content.cautions = vec![unbroken.clone(), long.clone(), long.clone()];
    content.foot.provenance = vec![long, unbroken];
    content
}

pub fn comparison() -> ComparisonContent {
    let row = |name: &str, unit: &str, a: f64, b: f64, spread: f64, shown: bool| ComparisonRow {
        name: name.to_owned(),
        unit: unit.to_owned(),
        mean_a: format!("{a:.1}"),
        mean_b: format!("{b:.1}"),
        difference: format!("{:+.1}", b - a).replace('-', "−"),
        interval: format!("{:.1} to {:.1}", b - a - spread, b - a + spread).replace('-', "−"),
        p_t: "0.003".to_owned(),
        p_permutation: "0.008".to_owned(),
        effect_size: "1.9".to_owned(),
        p_holm: "0.024".to_owned(),
        conclusion: if shown { "shown" } else { "not shown" }.to_owned(),
        shown,
        runs_a: (0..5).map(|i| a + spread * (f64::from(i) - 2.0) / 3.0).collect(),
        runs_b: (0..5).map(|i| b + spread * (f64::from(i * i) / 4.0 - 2.0) / 3.0).collect(),
    };
    ComparisonContent {
        head: head("low hole 4 against low hole 2"),
        name_a: "low hole 4".to_owned(),
        name_b: "low hole 2".to_owned(),
        headline: "low hole 2 bobs less".to_owned(),
        reasons: strings(&[
            "Tail load varies less by 84 N (57 to 111 N), shown at 5 % after Holm.",
            "Pull is the same within 0.3 kN.",
        ]),
        rows: vec![
            row("depth, SD", "mm", 9.4, 7.7, 1.1, true),
            row("tail load, mean", "N", 640.0, 1112.0, 90.0, true),
            row("tail load, SD", "N", 198.0, 114.0, 27.0, true),
            row("lifted time", "%", 2.1, 0.0, 0.8, true),
            row("bobbing, RMS in the band", "N", 180.0, 96.0, 40.0, true),
            row("pull, mean", "kN", 6.1, 6.0, 0.3, false),
            row("depth, mean", "mm", 181.0, 183.0, 4.0, false),
        ],
        method: strings(&[
            "Welch t on one figure a run; exact permutation of runs.",
            "Holm over 7 figures.",
            "Five passes each, alternating.",
        ]),
        warnings: strings(&["One field, one day: another soil may answer differently."]),
        foot: foot(),
    }
}

pub fn statics() -> StaticsContent {
    let hole = |name: &str, in_use| HoleRow {
        cells: strings(&[name, "340 mm", "+0.42", "2.6 kN", "0.94 kN", "12 mm"]),
        in_use,
    };
    StaticsContent {
        head: head("low hole 4"),
        verdict: Some(Verdict {
            subject: "drawbar".to_owned(),
            word: "leaning steep".to_owned(),
            look: VerdictLook::Leaning,
            neighbor: Some(
                "The line of pull passes too low, so pulling takes weight off the front wheels.".to_owned(),
            ),
            note: Some("expected, not measured".to_owned()),
            reasons: strings(&["Expected at 6.1 kN pull; nothing was measured."]),
        }),
        gauge: Some(Gauge {
            value: -0.41,
            low: -0.9,
            high: 0.12,
            balanced: 0.25,
            leaning: 0.6,
            front: "front wheels",
            tail: "tail wheel",
            set_aside: false,
        }),
        forces: Some(forces()),
        figures: figures().into_iter().take(8).collect(),
        holes: HoleTable {
            columns: strings(&["hole", "height", "balance index", "front load", "tail load", "offset e"]),
            rows: vec![
                hole("tractor 1", false),
                hole("tractor 2", true),
                hole("tractor 3", false),
                hole("plow 3", false),
            ],
        },
        draft: figures().into_iter().take(2).collect(),
        draft_notes: strings(&["ASABE D497.7, moldboard plow, fine soil; range ± 40 %."]),
        advice: vec![WhatToDo {
            order: "Measure a run before moving anything.".to_owned(),
            expectation: None,
        }],
        cautions: strings(&[
            "Tractor hitch height is outside the usual 254 to 381 mm (common practice, no source).",
        ]),
        foot: foot(),
    }
}
