//! `describe`: dialogues by the real binary, answers from a pipe.
use std::io::Write;
use std::process::{Command, Stdio};

use hitchwright_tests::binaries::Program;
use hitchwright_tests::command::{hitchwright, sample, stdout_of};
use hitchwright_tests::pdf::pages_of;
use ingest::plow::{Plow, read_plow};

use crate::Scratch;

/// Exit status and all that was said to these answers, one a line.
pub fn talk(file: &str, answers: &str) -> (Option<i32>, String) {
    let mut command = Command::new(Program::Hitchwright.path().unwrap());
    command.args(["describe", file]).stdin(Stdio::piped()).stdout(Stdio::piped()).stderr(Stdio::piped());
    let mut child = command.spawn().unwrap();
    child.stdin.take().unwrap().write_all(answers.as_bytes()).unwrap();
    let ended = child.wait_with_output().unwrap();
    let said = [ended.stdout, ended.stderr].concat();
    (ended.status.code(), String::from_utf8(said).unwrap())
}

/// The same without its line ends.
fn plain(said: &str) -> String {
    said.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// The example of a kind, as far as it is asked for.
fn example(name: &str) -> Plow {
    let mut plow = read_plow(&sample("plows").join(name)).unwrap();
    plow.settings.clear();
    plow.sensors.clear();
    for holes in [&mut plow.plow_hitch.holes, &mut plow.tractor_hitch.holes] {
        holes.iter_mut().enumerate().for_each(|(at, hole)| hole.name = (at + 1).to_string());
    }
    plow
}

const TRAILED: &str = "trailed\nTwo-bottom demo plow (invented)\n600 mm\nland\n300 mm ± 5 mm\n\
    1 in ± 5 mm, 1 in apart, 9 holes\n1 in\n\n1120 mm +/- 5 mm\n10 in ± 5 mm, 1 in apart, 7 holes\n\n2\n355 mm\n180 mm\n\
    sharp\n-720 mm ± 15 mm\n-100 mm ± 20 mm\n-1900 mm ± 10 mm\n450 mm\nfurrow\n0 mm, 0 N; 40 mm, 1000 N; 80 mm, 2000 N\n\
    0.06\n3400 N ± 60 N\n-600 mm ± 10 mm\n9\n2\n\n";
/// Each kind's example, and the answers that give it.
pub const KINDS: [(&str, &str); 6] = [
    ("two-bottom.toml", TRAILED),
    (
        "three-bottom-rolling-landside.toml",
        "landside\nThree-bottom plow with a rolling landside (invented)\n650 mm\nland\n400 mm ± 5 mm\n\
        50 mm ± 5 mm, 80 mm ± 5 mm, 110 mm ± 5 mm, 140 mm ± 5 mm, 170 mm ± 5 mm, 200 mm ± 5 mm\n40 mm\n\n1300 mm ± 5 mm\n\
        280 mm ± 5 mm, 310 mm ± 5 mm, 340 mm ± 5 mm, 370 mm ± 5 mm, 400 mm ± 5 mm\n\n3\n355 mm\n190 mm\nsharp\n\
        -1000 mm ± 15 mm\n\n-2350 mm ± 10 mm\n0.12\n\n5600 N ± 100 N\n-850 mm ± 10 mm\n3\n4\n\n",
    ),
    (
        "three-bottom-fixed-heel.toml",
        "heel\nThree-bottom plow with a fixed heel (invented)\n650 mm\nland\n400 mm ± 5 mm\n\
        50 mm ± 5 mm, 80 mm ± 5 mm, 110 mm ± 5 mm, 140 mm ± 5 mm, 170 mm ± 5 mm, 200 mm ± 5 mm\n40 mm\n\n1300 mm ± 5 mm\n\
        280 mm ± 5 mm, 310 mm ± 5 mm, 340 mm ± 5 mm, 370 mm ± 5 mm, 400 mm ± 5 mm\n\n3\n355 mm\n190 mm\nsharp\n\
        -1000 mm ± 15 mm\n\n-1950 mm ± 10 mm\n0.35\n\n5200 N ± 100 N\n-700 mm ± 10 mm\n3\n4\n\n",
    ),
    (
        "four-bottom-semi-mounted.toml",
        "semi-mounted\nFour-bottom semi-mounted plow (invented)\n900 mm ± 5 mm\n0 mm ± 5 mm\n\
        300 mm ± 5 mm, 360 mm ± 5 mm, 420 mm ± 5 mm, 480 mm ± 5 mm\n250 mm\n\n\
        460 mm ± 5 mm, 520 mm ± 5 mm, 580 mm ± 5 mm\n\n4\n406 mm\n220 mm\nsharp\n-1850 mm ± 20 mm\n\n-4000 mm ± 15 mm\n\
        720 mm\nfurrow\n0 mm, 0 N; 40 mm, 4000 N; 80 mm, 8000 N\n11000 N ± 220 N\n-1700 mm ± 15 mm\n2\n2\n\n",
    ),
    (
        "three-bottom-mounted.toml",
        "mounted\nThree-bottom mounted plow (invented)\n900 mm ± 5 mm\n430 mm ± 10 mm\n460 mm ± 10 mm\n750 mm ± 5 mm\n\
        50 mm ± 5 mm\n900 mm ± 5 mm, 960 mm ± 5 mm, 1020 mm ± 5 mm\n\n\n\
        700 mm ± 5 mm, 760 mm ± 5 mm, 820 mm ± 5 mm, 880 mm ± 5 mm\n\n3\n14 in\n200 mm\nsharp\n-1150 mm ± 20 mm\n\n\
        -2100 mm ± 15 mm\n0.35\n5500 N ± 100 N\n-1050 mm ± 15 mm\n2\n2\n\n",
    ),
    (
        "one-bottom-walking.toml",
        "walking\nOne-bottom walking plow (invented)\n36 ± 0.5\n2 in ± 5 mm, 1 apart, 8 holes\n\n\n100 ± 1\n\
        22 ± 1, 4 in apart, 3 holes\n\n1\n10\n5\nsharp\n-6 ± 0.5\n\n-24 ± 0.5\n0.4\n0.4\n130 ± 3\n-10 ± 0.5\n5\n2\n\n",
    ),
];

/// The figures of each example, answered, give the example; `statics` reads it.
#[test]
fn each_kind_is_described_as_its_example() {
    let scratch = Scratch::new();
    for (name, answers) in KINDS {
        let file = scratch.path(name);
        let (code, said) = talk(&file, answers);
        assert_eq!(code, Some(0), "{name}: {said}");
        assert!(
            said.contains("\nSteady point ")
                && said.contains("expected: ")
                && said.contains(ingest::safety::BEFORE_HANDS),
            "{said}"
        );
        // What follows is the report's.
        let asked = said.split(", setting today").next().unwrap();
        let wide = asked.lines().find(|line| line.trim_start_matches("> ").chars().count() > 80);
        assert!(!said.contains('\u{1b}') && wide.is_none(), "{name}: {wide:?}");
        assert!(!said.contains("that is unusual"), "{name}: {said}");
        // Each measurement has its drawing: the length asked for is marked in it.
        for question in asked.split("\n\n").filter(|part| part.contains(ingest::safety::BLOCKED)).skip(1) {
            assert!(question.contains('?') || question.contains("[front]"), "{name}: {question}");
        }
        let mut plow = read_plow(file.as_ref()).unwrap();
        plow.settings.clear();
        // Whoever answers in inches reads in them.
        assert!(plow.units.take().is_some());
        assert_eq!(plow, example(name), "{said}");
        stdout_of(["statics", &file]).unwrap();
        assert!(std::fs::read_to_string(&file).unwrap().contains("# place of the weight"));
        assert!(!std::fs::exists(format!("{file}.part")).unwrap());
    }
}

/// `?` before each answer tells of that question, each its own, and with the caution where hands get near.
#[test]
fn each_question_tells_more() {
    let scratch = Scratch::new();
    for (name, answers) in KINDS {
        let asked: Vec<String> = answers.lines().map(|line| format!("?\n{line}\n")).collect();
        let (code, said) = talk(&scratch.path(name), &asked.concat());
        assert_eq!(code, Some(0), "{name}: {said}");
        for part in
            ["two plows are not taken for each other", "Heights of holes decide most", "how hard steel drags"]
        {
            let of_others = part.starts_with("how hard")
                && !["heel", "walking"].iter().any(|kind| answers.starts_with(kind));
            assert!(plain(&said).contains(part) || of_others, "{name}: {part}: {said}");
        }
        // Two states of a plow for one job are none.
        for question in said.split("\n\n").skip(2) {
            let plain = plain(question);
            let (lowered, raised) =
                (plain.contains(ingest::safety::BLOCKED), plain.contains(ingest::safety::CAUTIONS[2]));
            assert!(!(lowered && raised), "{name}: {question}");
        }
    }
}

/// Taken up at every question, after `quit` and after the end of the answers, it is the same file.
#[test]
fn it_is_taken_up_where_it_was_left() {
    let scratch = Scratch::new();
    let [whole, pieces] = ["whole.toml", "pieces.toml"].map(|name| scratch.path(name));
    assert_eq!(talk(&whole, TRAILED).0, Some(0));
    let lines: Vec<_> = TRAILED.lines().collect();
    for (at, piece) in lines.chunks(5).enumerate() {
        let (quits, last) = (at % 2 == 0, at == lines.len().div_ceil(5) - 1);
        let (code, said) =
            talk(&pieces, &(piece.join("\n") + if quits && !last { "\nquit\n" } else { "\n" }));
        assert_eq!(code, Some(i32::from(!quits && !last)), "{said}");
        assert!(last || said.contains("pieces.toml.part; the same command goes on from there"), "{said}");
    }
    assert_eq!(std::fs::read(&whole).unwrap(), std::fs::read(&pieces).unwrap());
    // What is there already stays unless it is said otherwise.
    let (code, said) = talk(&whole, &TRAILED.replace("0.06", "0.07"));
    assert!(code == Some(1) && said.contains("Overwrite it?"), "{said}");
    assert_eq!(std::fs::read(&whole).unwrap(), std::fs::read(&pieces).unwrap());
}

/// A wrong answer is told and asked again, an unusual one is questioned, and both ends' weights give the place.
#[test]
fn slips_are_told_and_asked_again() {
    let scratch = Scratch::new();
    let file = scratch.path("plow.toml");
    let slips = TRAILED
        .replacen("600 mm\n", "wide\n600 lbf\n24 m\n\n600 mm\n", 1)
        .replacen("land\n", "grass\nland\nback\nland\n", 1)
        .replacen("300 mm ± 5 mm\n", "-300 mm ± 5 mm\nn\n50 in\n300 mm\nn\n300 mm ± 5 mm\n", 1)
        .replacen("-1900 mm ± 10 mm\n", "-100 mm ± 10 mm\nn\n-1900 mm ± 10 mm\n", 1)
        .replacen("\n9\n2\n", "\n19\n9\n8\n2\n", 1)
        .replacen("3400 N ± 60 N\n-600 mm ± 10 mm\n", "2326 N + 1074 N\n", 1);
    let (code, said) = talk(&file, &slips);
    assert_eq!(code, Some(0), "{said}");
    let said = plain(&said);
    for part in [
        "usual: 14 to 40 in (common practice, no source)",
        "that is unusual: 50 in, where 0 to 40 in is usual (common practice, no source). Keep it?",
        "'wide' does not start with a number",
        "24 m cannot be the diameter",
        "this cannot be left out",
        "there is no hole \"19\": they are 1 at 1 in, 2 at 2 in",
        "there is no hole \"8\": they are 1 at 10 in",
        "one of: land, furrow",
        "is behind the front axle, where a hitch is seldom",
        "y keeps it; n asks for it anew",
        "the tail at -100 mm is not behind the middle of the bottoms at -720 mm. Keep it?",
    ] {
        assert!(said.contains(part), "{part}: {said}");
    }
    let plow = read_plow(file.as_ref()).unwrap();
    assert!((plow.weight.total.si() - 3400.0).abs() < 0.01, "{:?}", plow.weight);
    assert!((plow.weight.x.si() + 1.9 * 1074.0 / 3400.0).abs() < 1e-4, "{:?}", plow.weight);
}

/// Found: answers were said to be kept where there is no folder to keep them in.
#[test]
fn a_file_that_cannot_be_is_told_before_the_first_question() {
    let scratch = Scratch::new();
    let (folder, missing) = (scratch.path("."), scratch.path("none/plow.toml"));
    for (file, part) in [(&missing, "the folder for it does not exist"), (&folder, "this is a folder")] {
        let (code, said) = talk(file, TRAILED);
        assert!(code == Some(1) && said.contains(part) && !said.contains("kind of plow"), "{said}");
    }
    // A line that is no text is asked for again, and where nothing was answered nothing is said to be kept.
    let (code, said) = talk(&scratch.path("plow.toml"), "");
    assert!(
        code == Some(1) && said.contains("nothing was answered yet") && !said.contains(".part"),
        "{said}"
    );
}

/// Two links, of which each can be wrong: what does not go with another answer is asked back.
#[test]
fn answers_that_do_not_go_together_are_asked_back() {
    let scratch = Scratch::new();
    let (_, mounted) =
        KINDS.iter().find(|(name, _)| name.contains("-mounted") && !name.contains("semi")).unwrap();
    let crossed =
        mounted.replacen("900 mm ± 5 mm, 960 mm ± 5 mm, 1020 mm ± 5 mm\n", "14, 15, 16\ny\nn\nquit\n", 1);
    let (code, said) = talk(&scratch.path("plow.toml"), &crossed);
    assert_eq!(code, Some(0), "{said}");
    assert!(
        plain(&said).contains("the top link's holes at the plow are not above the lower links' pins"),
        "{said}"
    );
}

/// One kind or all; a name that cannot be is told.
#[test]
fn the_measuring_sheet_is_printed() {
    let scratch = Scratch::new();
    let sheet = scratch.path("measure.pdf");
    hitchwright(["describe", "--sheet", &sheet, "--paper", "letter"], 0).unwrap();
    assert!((6..=12).contains(&pages_of(sheet.as_ref()).unwrap()));
    for kind in ["trailed", "walking"] {
        hitchwright(["describe", "--sheet", &sheet, "--kind", kind], 0).unwrap();
        assert!((1..=2).contains(&pages_of(sheet.as_ref()).unwrap()), "{kind}");
    }
    let (png, missing) = (scratch.path("measure.png"), scratch.path("none/measure.pdf"));
    for (args, code, part) in [
        (vec!["--sheet", &png], 2, "must end in .pdf"),
        (vec!["--sheet", &missing], 1, "the folder for it does not exist"),
        (vec!["--sheet", &sheet, "--kind", "disk"], 2, "one of trailed, landside, heel"),
    ] {
        let said = hitchwright([vec!["describe"], args].concat(), code).unwrap();
        assert!(said.stderr.contains(part), "{}", said.stderr);
    }
}
