//! Walks what the programs print, draw and tell in READMEs, and finds beside each order that brings hands near the plow
//! the caution that belongs to it.
#![allow(clippy::unwrap_used, reason = "a helper of tests fails as a test does")]

use std::collections::BTreeMap;
use std::fs;
use std::path::Path;

use analysis::causes::CauseKind;
use analysis::report::words::causes::check;
use hitchwright_tests::Outcome;
use hitchwright_tests::command::{hitchwright, sample, samples_in, stdout_of, text_of};
use ingest::safety::{BEFORE_HANDS, BLOCKED, NOBODY_BETWEEN, ON_STANDS};

/// What orders hands to the plow, in small letters, and what has to stand beside it.
const ORDERS: [(&str, &str); 21] = [
    ("move the tractor's end", BLOCKED),
    ("move the plow's end", BLOCKED),
    ("moving the pin", BLOCKED),
    ("of holes would do", BLOCKED),
    ("holes nearest to balance would do", BLOCKED),
    ("if the drive wheels slip", BLOCKED),
    ("what if (", BLOCKED),
    ("push on the", BLOCKED),
    ("jack ", BLOCKED),
    ("past a fixed point", BLOCKED),
    ("known weights", BLOCKED),
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

    fn command(&mut self, args: &[&str]) -> Outcome<String> {
        let said = stdout_of(args)?;
        self.text(&args.join(" "), &said);
        Ok(said)
    }
}

fn words_of(svg: &str) -> String {
    let texts = svg.split("<text").skip(1).filter_map(|rest| rest.split('>').nth(1)?.split('<').next());
    texts.flat_map(str::split_whitespace).collect::<Vec<_>>().join(" ")
}

#[test]
fn every_order_has_its_caution_beside_it() -> Outcome<()> {
    let mut walk = Walk::default();
    for name in ["too-flat", "balanced", "too-steep", "worn-shares"] {
        let run = sample("runs").join(name);
        let run = text_of(&run);
        walk.command(&["summary", run])?;
    }
    for kind in CauseKind::ALL {
        walk.paragraph(kind.label(), check(*kind));
    }
    let plow = sample("plows/two-bottom.toml");
    let plow = text_of(&plow);
    let runs = ["too-flat", "balanced"].map(|name| sample("runs").join(name).display().to_string());
    walk.command(&["statics", plow, "--setting", "flat", "--try", "tractor_hitch=+2 holes"])?;
    walk.command(&["statics", plow, "--runs", &runs[0], &runs[1]])?;
    for name in ["wide-on-narrow", "narrow-on-wide"] {
        let plow = sample("plows").join(format!("{name}.toml"));
        walk.command(&["statics", text_of(&plow), "--top", "--pull", "3000 N"])?;
    }
    for readme in ["../README.md", "../firmware-protocol/README.md"] {
        let text = fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join(readme)).unwrap();
        // An entry of a list is read alone.
        walk.text(readme, &text.replace("\n- ", "\n\n- "));
    }
    let met: Vec<&str> = walk.0.keys().copied().collect();
    println!("{:?}", walk.0);
    for caution in [BLOCKED, ON_STANDS, NOBODY_BETWEEN] {
        let kinds = ORDERS.iter().filter(|(order, of)| *of == caution && met.contains(order)).count();
        assert!(kinds > 0, "no order was met that needs \"{caution}\"");
    }
    assert!(met.len() >= 15, "only these orders were met: {met:?}");
    Ok(())
}

/// Drawings that order a move hang alone: the caution is on the same sheet.
#[test]
fn every_drawing_that_orders_a_move_carries_the_caution() -> Outcome<()> {
    let folder = tempfile::tempdir().unwrap();
    let path = |name: &str| folder.path().join(name).display().to_string();
    let (map, wall) = (path("map.svg"), path("wall.svg"));
    let mut plows = 0;
    for plow in samples_in("plows")? {
        hitchwright(["statics", text_of(&plow), "--map", &map, "--wall", &wall], 0)?;
        for file in [&map, &wall] {
            let words = words_of(&fs::read_to_string(file).unwrap());
            assert!(words.contains(BEFORE_HANDS), "{}: {file} lacks it: {words}", plow.display());
        }
        plows += 1;
    }
    assert!(plows >= 9);
    Ok(())
}
