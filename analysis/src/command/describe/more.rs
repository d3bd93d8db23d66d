//! What `?` tells of a question: how it is measured, where the tape is held, what it is for, and how exact it has to be.

use crate::report::units::Units;

/// The same of all places along the plow.
const ALONG: &str = "Drop a plumb line from 0 and from the point, mark both on the floor with chalk, and measure between the \
    marks along the line of travel, not across.";
const ROW: &str = "Set a straight board on the land (on the blocks, or as far above the floor as the plow works deep) and measure \
    up from it with a folding rule: to the middle of the lowest hole, then of the next. In a row with even steps: first height, step, \
    number, such as {16 in, 1 1/2 in apart, 10 holes|400 mm, 40 mm apart, 10 holes}; else each height with commas between. Heights of \
    holes decide most: to {1/8 in|3 mm}.";
const PIN: &str = "Measure up from the land (the top of the blocks, or a board as far above the floor as the plow works deep) to the \
    middle of the pin. It gives the line of the link, and so where the links meet: to {1/4 in|5 mm}.";
const LINK: &str = "Hold the tape at the middle of one pin and read it at the middle of the other, along the member, with nothing \
    hanging on it. It says how steep the line of pull becomes with a hole: to {1/2 in|1 cm}.";
const WASHER: &str = "Pins are packed with washers where half a hole is wanted. With its thickness statics can try a move by washers; \
    the verdict does not use it. With a caliper, or five on a pile and a fifth of that.";
const TURNED: &str = "Rule upright beside the hub, from what it stands on to the top of the rim. It tells an out-of-round wheel from \
    bobbing and gives the picture its size; the balance does not use it: {1/2 in|1 cm} is near enough.";
const TAIL: &str = "{along} It is the arm at which the tail's load works, and all other places are judged by it: to {1/2 in|1 cm}.";
const CHOSEN: &str = "Nobody measures it: it is how hard steel drags, force over the load on it, from a range that is common practice. \
    Take the middle of the range unless you have drawn the plow over the field with a scale in the chain.";
const HOLE: &str = "The hole that the pin is in now, as the plow is used. Its number counts from the lowest hole, as you gave them; its \
    height with the unit will do too. It names the setting \"today\", from which moves are counted.";

/// By key.
const MORE: [(&str, &str); 30] = [
    (
        "name",
        "It stands on pages and in files, so that two plows are not taken for each other. Nothing is worked out from it.",
    ),
    ("front_wheels.diameter", TURNED),
    (
        "front_wheels.runs_in",
        "It gives the height of the ground at which the front wheels' drag works, and no more, so it matters little: land for \
         furrow moves the balance index of the example by 0.02 or less. Most plows with two front wheels have one on the land and \
         one in the furrow: answer for the one that carries more (one wheel on a scale, then the other); if they carry alike, \
         either will do. While you measure, the land wheel stands on its blocks and the furrow wheel on the floor. Are their axles \
         not in line, then 0 is the point between them where the front's load works: halfway if they carry alike, else nearer \
         the heavier one. Chalk it on the floor, for every place is measured from it.",
    ),
    ("lower_links.length", LINK),
    ("lower_links.pins.plow_z", PIN),
    ("lower_links.pins.tractor_z", PIN),
    ("top_link.length", LINK),
    ("plow_hitch.x", "{along} Forward of 0 counts +. It is one end of the line of pull: to {1/2 in|1 cm}."),
    ("plow_hitch.holes", ROW),
    (
        "plow_hitch.clearance_z",
        "The hitch is best low at the plow, as far as nothing drags on land or trash: clevis, chain, cross bar. Measure how high the \
         pin has to be for that. Moves to lower holes are then not ordered: {1 in|2 cm} is near enough.",
    ),
    ("plow_hitch.washer", WASHER),
    ("drawbar.length", LINK),
    ("tractor_hitch.holes", ROW),
    ("tractor_hitch.washer", WASHER),
    (
        "bottoms.count",
        "How many bottoms cut, whatever the frame has room for. With the width of cut it gives the draft to be expected.",
    ),
    (
        "bottoms.cut_width",
        "Across the line of travel, from the point of one share to the point of the next, standing beside them. It is the cut of one \
         bottom, not of all: {14 in|355 mm} is common. It gives the draft to be expected, not the balance: to {1 in|2 cm}.",
    ),
    (
        "bottoms.depth",
        "How deep it plows in the field: a rule against the furrow wall, at five places, and the middle of them. Blocks under a wheel \
         that runs on the land are as thick, and the land from which all heights are measured is as far above the floor: a change of it \
         asks for the heights again. To {1/2 in|1 cm}.",
    ),
    (
        "bottoms.share",
        "It decides which way the soil pushes: sharp shares draw the plow down, worn ones ride up. Sharp: new or freshly pointed. \
         Blunt: the point is round, the share has its length. Worn: the share is short, and its point no longer dips below its heel.",
    ),
    (
        "bottoms.x",
        "{along} Of one bottom it is the middle of its share; of several, halfway between the foremost and the rearmost middle. The soil \
         is taken to push there: to {1 in|2 cm}. Behind 0 counts -.",
    ),
    (
        "bottoms.soil_force_z",
        "Only a run with a scale under the front wheels too (a front-load channel), or a trial, can tell it; it lies between land and \
         furrow floor, so below 0. Most leave it out.",
    ),
    ("tail_wheel.x", TAIL),
    ("tail_wheel.diameter", TURNED),
    (
        "tail_wheel.runs_in",
        "Most tail wheels run on the floor of the furrow that was just cut. It gives the height at which its drag works, and what \
         it stands on while you measure: on the land, blocks.",
    ),
    (
        "tail_wheel.load_table",
        "It turns the sensor's way into a load. Hang or set known weights over the tail wheel one after the other, and read how far the \
         spring gives under each, from none to more than the wheel ever carries: {0 in, 0 lbf; 1 in, 150 lbf; 2 in, 310 lbf|0 mm, \
         0 N; 25 mm, 700 N; 50 mm, 1400 N}. The load to 2 %, the way to {1/16 in|1 mm}. Keep hands off the spring under load.",
    ),
    ("rolling_landside.x", TAIL),
    ("rolling_landside.resistance", CHOSEN),
    ("heel.x", TAIL),
    ("heel.resistance", CHOSEN),
    ("sole.friction", CHOSEN),
    (
        "rolling.coefficient",
        "How hard the wheels roll, force over load: 0.06 on hard ground, 0.08 on stubble, 0.2 in loose soil. The lifted plow drawn \
         over the field with a scale in the chain gives it: that pull over the weight.",
    ),
];
/// Those of the weight and today's holes, the last questions.
const MORE_LAST: [(&str, &str); 4] = [
    (
        "weight.total",
        "The weight decides how much either end has to spare, and its place between them is what most of the verdict hangs on: weigh \
         both ends, each to 2 %. Level, as at work, a scale under the tail and one under each front wheel (add the front ones up), \
         shares just clear of the floor, and nothing else carrying: no stand, no tractor. Chock the wheels of \
         the other end, lift one end at a time with a jack on firm ground, push the scale and the blocks under it with a piece of wood, and keep hands and feet clear until it stands; nobody \
         reaches under it. A bathroom scale ends at {300 lbf|150 kg}: two of them under a plank carry more. The whole weight alone will do \
         as well; then its place is asked for.",
    ),
    (
        "weight.x",
        "From 0 back to the line in which the plow balances, so with a minus. It cannot well be felt: better go back one question and \
         give the weights of both ends, 400 + 210, and it is worked out. If you hang it up, lift it by one chain at a point that you \
         move until it hangs level, with nobody beside or under it; set it down, and measure to below that point. To {1/2 in|1 cm}: no \
         other place matters as much.",
    ),
    ("settings.today.plow_hole", HOLE),
    ("settings.today.tractor_hole", HOLE),
];

/// What there is to tell of a question, in the person's units.
pub(super) fn more(key: &str, units: Units) -> String {
    let found = MORE.iter().chain(&MORE_LAST).find(|(known, _)| *known == key);
    in_units(&found.map_or("", |(_, text)| text).replace("{along}", ALONG), units)
}

/// Of `{in US units|in SI}` the one of the person.
fn in_units(text: &str, units: Units) -> String {
    let mut told = String::new();
    let mut rest = text;
    while let Some((before, of_both)) = rest.split_once('{') {
        let Some((both, behind)) = of_both.split_once('}') else { break };
        let (us, si) = both.split_once('|').unwrap_or((both, both));
        told += before;
        told += match units {
            Units::Us => us,
            Units::Si => si,
        };
        rest = behind;
    }
    told + rest
}

#[cfg(test)]
mod tests {
    use super::super::questions::QUESTIONS;
    use super::*;
    use crate::command::describe::shapes::SHAPES;

    /// Each has its own, of parts that go to other plows alone the same.
    #[test]
    fn every_question_has_more() {
        assert_eq!(MORE.len() + MORE_LAST.len(), QUESTIONS.len());
        for question in QUESTIONS {
            let [us, si] = [Units::Us, Units::Si].map(|units| more(question.key, units));
            assert!(
                us.len() > 80 && !us.contains(['{', '|']) && !si.contains(['{', '|']),
                "{}",
                question.key
            );
            assert!(!us.contains(" mm") && !si.contains(" in|") && !si.contains(" in."), "{us}\n{si}");
        }
        // Of one plow hardly two questions have the same text.
        for shape in SHAPES {
            let mut told: Vec<String> = shape.asked().map(|question| more(question.key, Units::Us)).collect();
            let asked = told.len();
            told.sort();
            told.dedup();
            assert!(asked - told.len() <= 5, "{}: {} of {asked}", shape.name, told.len());
        }
    }

    /// What is told of a front wheel on the land and one in the furrow.
    #[test]
    fn what_the_front_wheels_run_on_matters_little() {
        let index = |runs_in: &str| {
            let text =
                SHAPES[0].example.replacen("runs_in = \"land\"", &format!("runs_in = \"{runs_in}\""), 1);
            let plow = ingest::plow::read_plow_text(&text, std::path::Path::new("p.toml")).unwrap();
            let (name, setting) = plow.settings.get_key_value("middle").unwrap();
            let pull = ingest::quantity::Force::from_n(8_000.0);
            let report = statics::report::statics_report(&plow, (name, setting), pull, None, 1).unwrap();
            report.loads.bounded_balance_index()
        };
        let (land, furrow) = (index("land"), index("furrow"));
        assert!(land != furrow && (land - furrow).abs() <= 0.02, "{land} {furrow}");
    }
}
