//! Walks what the programs print, draw and tell in READMEs, and finds beside each order that brings hands near the plow
//! the caution that belongs to it; and README says what the program says.

use std::collections::BTreeMap;
use std::fs;

use crate::{STORED_RUNS, Scratch, example_plows, sample_arg};
use analysis::causes::CauseKind;
use analysis::command::args::Cli;
use analysis::report::words::causes::check;
use clap::CommandFactory;
use hitchwright_tests::command::{hitchwright, sample, stdout_of};
use ingest::safety::{BEFORE_HANDS, BLOCKED, CAUTIONS, NOBODY_BETWEEN, ON_STANDS};
use page::Content;
use page::handbook_content::HandbookContent;

/// What orders hands to the plow, in small letters, and what has to stand beside it.
const ORDERS: [(&str, &str); 23] = [
    ("end at the tractor", BLOCKED),
    ("end at the plow", BLOCKED),
    ("moving the pin", BLOCKED),
    ("of holes would do", BLOCKED),
    ("holes nearest to balance would do", BLOCKED),
    ("if the drive wheels slip", BLOCKED),
    ("what if (", BLOCKED),
    ("push on the", BLOCKED),
    ("jack ", BLOCKED),
    ("past a fixed point", BLOCKED),
    ("known weights", BLOCKED),
    ("level on a scale", BLOCKED),
    ("where the plow balances", ON_STANDS_BEFORE),
    ("by hand", BLOCKED),
    ("wheel's arm", BLOCKED),
    ("weigh front", BLOCKED),
    ("weigh the", BLOCKED),
    ("measure the", BLOCKED),
    ("see to the tail wheel", BLOCKED),
    ("straightedge", ON_STANDS),
    ("point or replace the shares", ON_STANDS),
    ("landside's heel", ON_STANDS),
    ("drawbar slack", NOBODY_BETWEEN),
];

/// The caution itself, as it stands among the others.
const ON_STANDS_BEFORE: &str = CAUTIONS[2];

/// How often each order was met.
#[derive(Default)]
struct Walk(BTreeMap<&'static str, usize>);

impl Walk {
    /// A paragraph, or one string of a JSON.
    fn paragraph(&mut self, wherefrom: &str, text: &str) {
        let plain = text.split_whitespace().collect::<Vec<_>>().join(" ").to_lowercase();
        for (order, caution) in ORDERS {
            if plain.contains(order) {
                assert!(
                    plain.contains(&caution.to_lowercase()),
                    "{wherefrom}: \"{order}\" without \"{caution}\": {text}"
                );
                *self.0.entry(order).or_default() += 1;
            }
        }
    }

    fn text(&mut self, wherefrom: &str, text: &str) {
        for paragraph in text.split("\n\n") {
            self.paragraph(wherefrom, paragraph);
        }
    }

    fn command(&mut self, args: &[&str]) {
        self.text(&args.join(" "), &stdout_of(args).unwrap());
    }
}

/// A file of the repository, by its path from the top.
fn read(path: &str) -> String {
    fs::read_to_string(sample("..").join(path)).unwrap()
}

fn words_of(svg: &str) -> String {
    let texts = svg.split("<text").skip(1).filter_map(|rest| rest.split('>').nth(1)?.split('<').next());
    texts.flat_map(str::split_whitespace).collect::<Vec<_>>().join(" ")
}

#[test]
fn every_order_has_its_caution_beside_it() {
    let mut walk = Walk::default();
    for name in STORED_RUNS {
        let run = sample_arg(&format!("runs/{name}"));
        walk.command(&["summary", &run]);
        // On a phone each line stands alone.
        for line in stdout_of(["summary", &run, "--brief"]).unwrap().lines() {
            walk.paragraph(&format!("summary {name} --brief"), line);
        }
    }
    for kind in CauseKind::ALL {
        walk.paragraph(kind.label(), check(*kind));
    }
    let [plow, flat, balanced, wide, narrow] = [
        "plows/two-bottom.toml",
        "runs/too-flat",
        "runs/balanced",
        "plows/wide-on-narrow.toml",
        "plows/narrow-on-wide.toml",
    ]
    .map(sample_arg);
    walk.command(&["statics", &plow, "--setting", "flat", "--try", "tractor_hitch=+2 holes"]);
    walk.command(&["statics", &plow, "--runs", &flat, &balanced]);
    for plow in [wide, narrow] {
        walk.command(&["statics", &plow, "--top", "--pull", "3000 N"]);
    }
    for readme in ["README.md", "firmware-protocol/README.md"] {
        let text = read(readme);
        // An entry of a list is read alone.
        walk.text(readme, &text.replace("\n- ", "\n\n- "));
    }
    let talks = Scratch::new();
    for (name, answers) in crate::describe::KINDS {
        let (code, said) = crate::describe::talk(&talks.path(name), answers);
        assert_eq!(code, Some(0), "{said}");
        walk.text(&format!("describe {name}"), &said);
        let more: Vec<String> = answers.lines().map(|line| format!("?\n{line}\n")).collect();
        let (_, said) = crate::describe::talk(&talks.path(&format!("more-{name}")), &more.concat());
        walk.text(&format!("describe {name}, ?"), &said);
    }
    for order in ["level on a scale", "where the plow balances"] {
        assert!(walk.0.contains_key(order), "describe does not ask: {order}");
    }
    for (name, chapter) in HandbookContent::CHAPTERS {
        // A row of a table is read alone.
        walk.text(
            name,
            &chapter.replace("\n- ", "\n\n- ").replace("\n+ ", "\n\n+ ").replace("\n  (", "\n\n  ("),
        );
    }
    let mut brief = Walk::default();
    brief.command(&["summary", &flat, "--brief"]);
    brief.command(&["summary", &sample_arg("runs/worn-shares"), "--brief"]);
    for order in ["end at the plow", "point or replace the shares"] {
        assert!(brief.0.contains_key(order), "the brief form does not order: {order}");
    }
    let met: Vec<&str> = walk.0.keys().copied().collect();
    println!("{:?}", walk.0);
    for caution in [BLOCKED, ON_STANDS, NOBODY_BETWEEN] {
        let kinds = ORDERS.iter().filter(|(order, of)| *of == caution && met.contains(order)).count();
        assert!(kinds > 0, "no order was met that needs \"{caution}\"");
    }
    assert!(met.len() >= 15, "only these orders were met: {met:?}");
}

/// Drawings that order a move hang alone: the caution is on the same sheet.
#[test]
fn every_drawing_that_orders_a_move_carries_the_caution() {
    let folder = Scratch::new();
    let (map, wall) = (folder.path("map.svg"), folder.path("wall.svg"));
    let plows = example_plows();
    assert!(plows.len() >= 9);
    for (plow, _) in plows {
        hitchwright(["statics", &plow, "--map", &map, "--wall", &wall], 0).unwrap();
        for file in [&map, &wall] {
            let words = words_of(&fs::read_to_string(file).unwrap());
            assert!(words.contains(BEFORE_HANDS), "{plow}: {file} lacks it: {words}");
        }
    }
}

#[test]
fn the_cautions_stand_in_readme_word_for_word() {
    let readme = read("README.md");
    for caution in CAUTIONS {
        assert!(readme.contains(&format!("- {caution}\n")), "README lacks: {caution}");
    }
}

/// The firmware's page says those that a builder of a box meets, word for word; the others in its own, longer ones.
#[test]
fn the_cautions_stand_on_the_firmwares_page() {
    let text = read("firmware-protocol/README.md");
    let [riding, hands, _, tail_wheel, _, manual] = CAUTIONS;
    for caution in [riding, hands, tail_wheel, manual] {
        assert!(text.contains(&format!("- {caution}")), "firmware-protocol/README.md lacks: {caution}");
    }
    assert!(text.contains("**a safety chain goes beside\n  it**") && text.contains("rated for that"));
}

#[test]
fn every_command_in_readme_exists_with_its_options() {
    let command = Cli::command();
    let mut lines = 0;
    for line in read("README.md").lines().filter(|line| line.starts_with("hitchwright ")) {
        lines += 1;
        let mut words = line.split_whitespace().skip(1);
        let name = words.next().unwrap();
        let known = command.find_subcommand(name).unwrap_or_else(|| panic!("README: no command {name}"));
        for option in words.filter_map(|word| word.strip_prefix("--")) {
            let exists = known.get_arguments().any(|argument| argument.get_long() == Some(option));
            assert!(exists, "README: `{name}` has no --{option}");
        }
    }
    assert!(lines >= 5, "README shows only {lines} commands");
}

#[test]
fn every_file_that_readme_points_to_is_there() {
    let text = read("README.md");
    let targets = text.split("](").skip(1).filter_map(|rest| rest.split(')').next());
    let mut files = 0;
    for target in targets.filter(|target| !target.starts_with("http")) {
        files += 1;
        assert!(sample("..").join(target).exists(), "README points to {target}, which is not there");
    }
    assert!(files >= 4);
}
