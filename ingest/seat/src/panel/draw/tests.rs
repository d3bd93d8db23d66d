use super::*;
use crate::balance::NotShown;
use crate::characters::Characters;
use crate::live::{BoxNow, CannotNow, Choice, LastPass, LoadNow, NoticeLine, PassState, ProgramNow, RunNow};
use crate::live::{Snapshot, StripPoint, Trouble};
use crate::panel::keys::Hand;
use crate::reader_units::{InBothUnits, ReaderUnits as Units};
use ingest::plow::ShareCondition;
use ingest::safety::BEFORE_HANDS;
use ratatui::Terminal;
use ratatui::backend::TestBackend;
use ratatui::style::Modifier;
use statics::verdict::Class;
use std::time::Instant;

fn notice(number: u64, warning: bool, text: &str) -> NoticeLine {
    let run = warning.then(|| "2027-04-11T0914_middle".to_owned());
    NoticeLine { number, t_s: 90.0, at: "09:16".into(), run, warning, text: text.into() }
}

pub fn snapshot() -> Snapshot {
    Snapshot {
        phase: Phase::Recording,
        program: ProgramNow { version: "0", started: "2027-04-11T09:14:00Z".into() },
        t_s: 100.0,
        run: Some(RunNow {
            t_s: 62.4,
            rows: 12_480,
            marks: 2,
            ..RunNow::begun("2027-04-11T0914_middle", "middle", ShareCondition::Sharp)
        }),
        boxes: vec![BoxNow {
            name: "ttyUSB0".into(),
            port: "/dev/ttyUSB0".into(),
            away: false,
            rows_per_s: 199.6,
        }],
        silent_s: None,
        pull_n: Some(7_483.0),
        depth_mm: Some(178.4),
        speed_mps: Some(1.7),
        tail_load_n: Some(800.0),
        load: Some(LoadNow {
            what: "tail",
            name: "tail load",
            standing_n: Some(800.0),
            lifted_under_n: Some(40.0),
            scale_n: 1_600.0,
        }),
        depth_target_mm: 180.0,
        lifted: false,
        balance: Some(Balance::Shown(Shown {
            b: 0.05,
            low: -0.12,
            high: 0.22,
            too_flat: 0.0,
            leaning_flat: 0.02,
            balanced: 0.98,
            leaning_steep: 0.0,
            too_steep: 0.0,
            chances: vec!["balanced 98 %".into()],
            class: Class::Balanced,
            word: "balanced".into(),
            firm: true,
            soil_lifts: false,
            over_s: 20.0,
        })),
        limits: ingest::plow::Limits::default(),
        troubles: Vec::new(),
        notices: vec![notice(1, false, "the box was found")],
        settings: vec!["flat".into(), "middle".into(), "steep".into()],
        holes: Vec::new(),
        shares: [ShareCondition::Sharp, ShareCondition::Blunt, ShareCondition::Worn],
        choice: Choice {
            setting: Some("middle".into()),
            share: Some(ShareCondition::Sharp),
            field: Some("by the brook".into()),
            ..Choice::default()
        },
        begins: ingest::recorder::Begins::ByHand,
        cannot: CannotNow::default(),
        may_control: true,
        units: Units::Si,
        last_pass: Some(LastPass {
            run: "2027-04-11T0900_flat".into(),
            state: PassState::Ready,
            headline: "TOO FLAT".into(),
            look: Some("far".into()),
            order: InBothUnits::default(),
            lines: InBothUnits {
                si: vec!["Plow hitch from hole 9 to hole 4, 120 mm lower.".into()],
                us: vec!["Plow hitch from hole 9 to hole 4, 4.7 in lower.".into()],
            },
            comparison: InBothUnits::default(),
        }),
        disk_free_bytes: Some(12_300_000_000),
    }
}

pub const UTF8: Look = Look { characters: Characters::Utf8, color: true };
pub const BARE: Look = Look { characters: Characters::Ascii, color: false };

fn points(lift_at_s: Option<f64>) -> Vec<StripPoint> {
    let load = |t_s: f64| if lift_at_s.is_some_and(|at| (t_s - at).abs() < 0.05) { 0.0 } else { 800.0 };
    (0..1000)
        .map(|n| 80.02 + f64::from(n) * 0.02)
        .map(|t_s| StripPoint { t_s, load_n: Some(load(t_s)), depth_mm: None })
        .collect()
}

fn buffer(now: &Snapshot, strip: &[StripPoint], look: Look, (columns, lines): (u16, u16)) -> Buffer {
    let mut terminal = Terminal::new(TestBackend::new(columns, lines)).unwrap();
    let hand = Hand::default();
    let scene = Scene { now, strip, hand: &hand, look };
    terminal.draw(|frame| draw(&scene, frame.area(), frame.buffer_mut())).unwrap();
    terminal.backend().buffer().clone()
}

pub fn lines_of(buffer: &Buffer) -> Vec<String> {
    let area = buffer.area;
    (0..area.height).map(|y| (0..area.width).map(|x| buffer[(x, y)].symbol()).collect()).collect()
}

pub fn seen_on(now: &Snapshot, size: (u16, u16)) -> String {
    seen(now, BARE, size)
}

fn seen(now: &Snapshot, look: Look, size: (u16, u16)) -> String {
    lines_of(&buffer(now, &points(None), look, size)).join("\n")
}

#[test]
fn all_that_matters_is_there_at_80_by_24_and_at_60_by_20() {
    for size in [(80, 24), (60, 20), (132, 43)] {
        for look in [UTF8, BARE] {
            let text = seen(&snapshot(), look, size);
            for part in [
                " RECORDING   62 s   nothing lost   2 marks",
                "middle with sharp shares",
                "2027-04-11T0914_middle",
                "tail load 800 N",
                "standing 800 N",
                "lifted under 40 N",
                "1600 N",
                "balance BALANCED",
                "b +0.05 (-0.12 to +0.22)   last 20 s",
                "balanced 98 %",
                "depth 178 mm, wanted 180 mm",
                "pull 7480 N",
                "speed 6.1 km/h",
                "last run 2027-04-11T0900_flat: TOO FLAT",
                "hole 9 to hole 4",
                "last 20 s: no lift",
                "09:16: the box was found",
                "s start",
                "x stop",
                "m mark",
                "h hitch",
                "c shares",
                "u units",
                "q end",
            ] {
                assert!(text.contains(part), "{part:?} is not seen at {size:?} with {look:?}:\n{text}");
            }
            assert!(size.0 < 80 || text.contains("12480 rows"), "{text}");
            assert_eq!(look == BARE, text.is_ascii());
        }
    }
}

#[test]
fn the_bar_is_as_long_as_the_load_and_has_its_zone_at_the_left() {
    let mut now = snapshot();
    // 76 cells of 1600 N: 800 N are 38, the zone of 40 N reaches into two.
    let bar_of = |now: &Snapshot| lines_of(&buffer(now, &[], BARE, (80, 24)))[4].clone();
    assert_eq!(bar_of(&now), format!(" |{}{}|", "#".repeat(38), " ".repeat(38)) + " ");
    now.tail_load_n = Some(0.0);
    now.lifted = true;
    assert_eq!(bar_of(&now), format!(" |xx{}|", " ".repeat(74)) + " ");
    let lifted = buffer(&now, &[], UTF8, (80, 24));
    assert!(lines_of(&lifted)[3].contains("LIFTED"));
    assert!(lifted[(2, 4)].modifier.contains(Modifier::REVERSED), "it shows without color too");
}

#[test]
fn a_lift_of_a_tenth_of_a_second_is_marked_where_it_was() {
    let lines = lines_of(&buffer(&snapshot(), &points(Some(90.0)), BARE, (80, 24)));
    assert!(lines[3].contains("last 20 s: x 1 lift "), "{}", lines[3]);
    let axis = lines.iter().find(|line| line.starts_with(" +-")).unwrap();
    // Half of the way along the 76 columns.
    let place = axis.char_indices().filter(|(_, c)| *c == 'x').map(|(place, _)| place).next().unwrap();
    assert!((38..=41).contains(&place), "{place}: {axis}");
}

#[test]
fn the_scale_shows_index_interval_and_bands() {
    let lines = lines_of(&buffer(&snapshot(), &points(None), BARE, (80, 24)));
    let scale = lines.iter().find(|line| line.trim_start().starts_with("steep ")).unwrap();
    let cells: Vec<char> = scale.chars().skip(7).take(67).collect();
    let at = |b: f64| cells[place(b, 67)];
    assert_eq!((at(0.05), at(0.25), at(-0.25), at(0.6), at(-0.6)), ('O', '|', '|', ':', ':'));
    assert_eq!((at(-0.12), at(0.22), at(-0.18), at(0.4)), ('=', '=', '.', '.'));
}

#[test]
fn what_is_not_shown_says_why() {
    let mut now = snapshot();
    now.balance = Some(Balance::NotShown { why: NotShown::InGroundTooShort { in_s: 12.2 } });
    let text = seen(&now, UTF8, (60, 20));
    let words = text.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(words.contains("balance not shown: it comes in 12 s, if the plow stays in the ground"), "{text}");
    assert!(!text.contains("b +"), "{text}");
    now.load = None;
    now.tail_load_n = None;
    now.depth_mm = None;
    let text = seen(&now, UTF8, (60, 20));
    assert!(
        text.contains("no load of tail or front is measured") && text.contains("depth -, wanted"),
        "{text}"
    );
}

#[test]
fn all_figures_change_their_units_together() {
    let now = snapshot();
    let hand = Hand { units: Units::Us, ..Hand::default() };
    let scene = Scene { now: &now, strip: &[], hand: &hand, look: BARE };
    let mut buffer = Buffer::empty(Rect::new(0, 0, 80, 24));
    draw(&scene, buffer.area, &mut buffer);
    let text = lines_of(&buffer).join("\n");
    for part in
        ["tail load 180 lbf", "depth 7.0 in, wanted 7.1 in", "pull 1680 lbf", "speed 3.8 mph", "4.7 in lower"]
    {
        assert!(text.contains(part), "{part:?}:\n{text}");
    }
}

#[test]
fn a_word_that_is_not_firm_is_not_bold() {
    let mut now = snapshot();
    let bold_at = |now: &Snapshot| {
        let buffer = buffer(now, &points(None), UTF8, (80, 24));
        let lines = lines_of(&buffer);
        let line = lines.iter().position(|line| line.contains("balance ")).unwrap();
        buffer[(9, line as u16)].modifier.contains(Modifier::BOLD)
    };
    assert!(bold_at(&now));
    if let Some(Balance::Shown(shown)) = &mut now.balance {
        shown.firm = false;
        shown.word = "looks balanced".into();
    }
    assert!(!bold_at(&now));
    assert!(seen(&now, UTF8, (80, 24)).contains("LOOKS BALANCED"));
}

#[test]
fn what_is_wrong_is_said_in_words_and_seen_without_color() {
    let mut now = snapshot();
    now.troubles = vec![
        Trouble { kind: TroubleKind::PortAway, text: "a port is away".into(), since_s: 97.0 },
        Trouble { kind: TroubleKind::RowsLost, text: "8 rows lost in this run".into(), since_s: 20.0 },
        Trouble { kind: TroubleKind::NoFix, text: "the receiver has no fix".into(), since_s: 20.0 },
    ];
    if let Some(run) = &mut now.run {
        run.losses = vec!["8 rows lost".into()];
    }
    let text = seen(&now, BARE, (60, 20));
    // On two lines, in their order; the rest has moved down.
    let told = text.split_whitespace().collect::<Vec<_>>().join(" ");
    let wrong = "! a port is away (3 s); 8 rows lost in this run; the receiver has no fix (80 s) tail load";
    assert!(told.contains(wrong) && !told.contains("nothing lost"), "{text}");
    assert!(text.contains("s start") && text.contains("09:16: the box"), "{text}");
    let bare = buffer(&now, &points(None), BARE, (60, 20));
    let colors = bare.content().iter().filter(|cell| cell.fg != ratatui::style::Color::Reset);
    assert_eq!(colors.count(), 0, "no color was asked for");
    assert!(bare[(1, 2)].modifier.contains(Modifier::REVERSED));
    let colored = buffer(&now, &points(None), UTF8, (60, 20));
    assert_eq!(colored[(1, 2)].fg, ratatui::style::Color::Red);
}

/// Found: a box was away, and "nothing lost" and the lifts of long ago stood there as if they were of now.
#[test]
fn nothing_of_before_is_shown_as_of_now_while_no_readings_come() {
    let mut now = Snapshot { silent_s: Some(12.3), tail_load_n: None, ..snapshot() };
    let text = seen(&now, BARE, (60, 20));
    for part in ["RECORDING   62 s    no readings for 12 s ", "tail load -", "not read for 12 s"] {
        assert!(text.contains(part), "{part:?}:\n{text}");
    }
    assert!(
        !text.contains("nothing lost") && !text.contains("last 20 s: ") && !text.contains("oooo"),
        "{text}"
    );
    (now.phase, now.run) = (Phase::StandsBy, None);
    now.troubles = vec![Trouble { kind: TroubleKind::PortAway, text: "it went away".into(), since_s: 97.0 }];
    assert!(seen(&now, BARE, (60, 20)).contains("nothing is recorded, and a box is missing"));
    (now.phase, now.load) = (Phase::Listening, None);
    assert!(seen(&now, BARE, (60, 20)).contains("no readings yet"));
}

/// As beside Start on the page.
#[test]
fn between_runs_the_caution_before_hands_stands_above_the_keys() {
    let now = Snapshot { phase: Phase::StandsBy, run: None, ..snapshot() };
    let told = |now| seen(now, BARE, (60, 20)).split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(told(&now).contains(BEFORE_HANDS), "{}", told(&now));
    assert!(!told(&snapshot()).contains(BEFORE_HANDS));
}

#[test]
fn texts_from_outside_cannot_command_the_terminal() {
    let mut now = snapshot();
    let evil = "\u{1b}[2J\u{1b}]0;x\u{7}low\u{9b}31m\n\u{202e}";
    now.notices = vec![notice(1, false, evil)];
    now.boxes[0].name = evil.into();
    if let Some(run) = &mut now.run {
        run.setting = evil.into();
        run.name = evil.into();
    }
    for look in [UTF8, BARE] {
        let drawn = buffer(&now, &points(None), look, (80, 24));
        let signs: String = drawn.content().iter().map(ratatui::buffer::Cell::symbol).collect();
        assert!(signs.chars().all(|c| !c.is_control() && c != '\u{202e}'), "{signs:?}");
        assert!(signs.contains("low"), "the rest of it is shown");
    }
}

#[test]
fn a_small_screen_shows_what_matters_and_none_is_too_small() {
    let mut now = snapshot();
    now.lifted = true;
    let text = seen(&now, UTF8, (40, 8));
    assert!(text.contains("RECORDING") && text.contains("LIFTED") && text.contains("60 by 20"), "{text}");
    for size in [(1, 1), (3, 30), (200, 2), (59, 19), (60, 19), (61, 21), (300, 90)] {
        let _ = seen(&now, UTF8, size);
    }
}

#[test]
fn standing_by_says_what_the_next_run_is() {
    let mut now = Snapshot { phase: Phase::StandsBy, run: None, last_pass: None, ..snapshot() };
    let text = seen(&now, UTF8, (60, 20));
    assert!(text.contains("STANDS BY") && text.contains("next run: middle with sharp shares"), "{text}");
    assert!(text.contains("no run yet"), "{text}");
    now.choice.setting = None;
    assert!(seen(&now, UTF8, (60, 20)).contains("no hitch setting chosen (h)"));
    now.phase = Phase::Listening;
    assert!(seen(&now, UTF8, (60, 20)).contains("not all boxes have answered yet"));
}

/// An order whose caution was cut off at the edge would be worse than none.
#[test]
fn an_order_is_shown_with_its_caution_or_not_at_all() {
    let order = "Move the plow hitch from hole 9 to hole 4. Engine off, plow lowered and blocked, and nobody between \
        tractor and plow before a hand goes to the pin.";
    let mut now = snapshot();
    let lines: Vec<String> = (0..12).map(|number| format!("{number}: {order}")).collect();
    let pass = now.last_pass.as_mut().unwrap();
    pass.lines = InBothUnits { si: lines.clone(), us: lines.clone() };
    let text = seen(&now, UTF8, (60, 20));
    assert!(text.contains("v shows all of it") && !text.contains("Move the plow hitch"), "{text}");
    let mut pages = String::new();
    for page in 0..3 {
        let hand = Hand { sheet: Sheet::LastRun(page), ..Hand::default() };
        let scene = Scene { now: &now, strip: &[], hand: &hand, look: BARE };
        let mut buffer = Buffer::empty(Rect::new(0, 0, 60, 18));
        draw(&scene, buffer.area, &mut buffer);
        let lines = lines_of(&buffer);
        assert!(lines[17].contains(&format!("Page {} of 3", page + 1)), "{lines:?}");
        let page: Vec<&str> = lines[..17].iter().flat_map(|line| line.split_whitespace()).collect();
        let page = page.join(" ");
        assert_eq!(page.matches("Move the plow").count(), page.matches("goes to the pin.").count(), "{page}");
        pages.push_str(&page);
        pages.push(' ');
    }
    for line in lines {
        assert!(pages.contains(&line), "{line:?}: {pages}");
    }
}

/// Found: at 60 columns the end of a path, which says what is wrong, was cut off.
#[test]
fn what_is_said_is_said_to_its_end_on_a_small_screen() {
    let port = "waiting for /dev/serial/by-path/pci-0000:00:14.0-usb-0:2:1.0-port0: there is no such port";
    let why = "No run begins: /var/lib/hitchwright/runs/2027-04-11T0914_middle: the folder cannot be made: No space left on device";
    let mut now = Snapshot { phase: Phase::StandsBy, run: None, ..snapshot() };
    now.troubles = vec![Trouble { kind: TroubleKind::PortAway, text: port.into(), since_s: 97.0 }];
    now.notices = vec![notice(1, false, "a notice")];
    let link = vec![crate::server::SaidLine::Words("page: http://127.0.0.1:8377/".into())];
    let until = Instant::now() + std::time::Duration::from_secs(60);
    let hand = Hand { answer: Some((why.into(), until)), link, ..Hand::default() };
    for (columns, lines) in [(60, 20), (80, 24)] {
        let mut buffer = Buffer::empty(Rect::new(0, 0, columns, lines));
        draw(&Scene { now: &now, strip: &points(None), hand: &hand, look: BARE }, buffer.area, &mut buffer);
        let drawn = lines_of(&buffer);
        let text: String = drawn.concat().split_whitespace().collect();
        for said in [port, why, "last run 2027-04-11T0900_flat"] {
            let said: String = said.split_whitespace().collect();
            assert!(text.contains(&said), "{said}:\n{}", drawn.join("\n"));
        }
        assert!(
            drawn.last().is_some_and(|keys| keys.contains("q end") && keys.contains("l link")),
            "{drawn:?}"
        );
    }
}

#[test]
fn the_words_of_the_balance_have_room_for_its_index() {
    let mut now = snapshot();
    if let Some(Balance::Shown(shown)) = &mut now.balance {
        shown.word = "looks leaning steep".into();
        shown.chances = ["leaning steep 41 %", "balanced 31 %", "too steep 18 %", "leaning flat 10 %"]
            .map(String::from)
            .into();
    }
    let text = seen(&now, BARE, (60, 20));
    assert!(text.contains("LOOKS LEANING STEEP   b +0.05 (-0.12 to +0.22) "), "{text}");
    assert!(text.contains("leaning steep 41 %   balanced 31 %   too steep 18 %"), "{text}");
}
