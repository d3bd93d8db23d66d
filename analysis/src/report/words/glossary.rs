//! What the words of the reports mean: the handbook's list, which README repeats.

/// A word, and what it means.
pub const GLOSSARY: [(&str, &str); 12] = [
    ("setting", "one named hitch setting: which hole at the plow, which at the tractor"),
    ("run", "the folder recorded during one test pass with one setting"),
    ("pull, draft", "force along the drawbar; its component in the direction of travel"),
    ("tail load, front load", "vertical load on the tail wheel; on the front wheels together"),
    (
        "soil slope σ",
        "vertical part / draft part of the soil force; below 0 the soil pulls the plow down (sharp shares), above 0 it lifts it (worn ones)",
    ),
    (
        "steady point",
        "where the line of the soil force meets the vertical line through the plow's weight: a pull line through it keeps the wheel loads whatever the draft",
    ),
    ("pull-line offset e", "height of the line of pull above the steady point, on the weight line"),
    (
        "balance index b",
        "e scaled: +1 the tail wheel leaves the ground, −1 the front wheels do, 0 on the steady point",
    ),
    (
        "center of resistance",
        "where the resultant of all soil forces passes, landsides included: by the handbook's rule a quarter of one bottom's cut left of the middle; a range, not a point",
    ),
    ("bobbing", "narrow-band oscillation of the tail load"),
    ("lifted time", "share of the run in which the tail load is under 5 % of its static value"),
    ("verdict", "too flat · leaning flat · balanced · leaning steep · too steep · not shown"),
];
