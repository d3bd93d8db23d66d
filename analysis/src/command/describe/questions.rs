//! What is asked, as data: in the order in which one walks round the plow.

/// How an answer is read.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Form {
    Text,
    /// One of these words.
    Choice(&'static [&'static str]),
    /// A whole number.
    Count,
    Number,
    /// A length without a ±.
    Length,
    /// A length, with a ± or without.
    Measured,
    /// The whole weight, or front + tail, each on its scale.
    Weight,
    /// First height, step and number, or each height.
    Holes,
    /// Deflection and load of a spring, line by line.
    Table,
}

impl Form {
    /// Whether hands go to the plow for it.
    pub(super) const fn is_measured(self) -> bool {
        matches!(self, Self::Length | Self::Measured | Self::Weight | Self::Holes | Self::Table)
    }
}

/// One question.
#[derive(Debug)]
pub(super) struct Question {
    /// Dotted key in `plow.toml`.
    pub key: &'static str,
    /// Table that the example of a kind has where this kind is asked it; empty: all kinds.
    pub beside: &'static str,
    pub form: Form,
    /// Whether it may be left out.
    pub optional: bool,
    pub what: &'static str,
    /// Where the tape is held.
    pub how: &'static str,
}

const fn needed(
    key: &'static str,
    beside: &'static str,
    form: Form,
    what: &'static str,
    how: &'static str,
) -> Question {
    Question { key, beside, form, optional: false, what, how }
}

const fn optional(
    key: &'static str,
    beside: &'static str,
    form: Form,
    what: &'static str,
    how: &'static str,
) -> Question {
    Question { key, beside, form, optional: true, what, how }
}

const GROUND: Form = Form::Choice(&["land", "furrow"]);
const X: &str = "along the floor from 0 to the point; forward of 0 counts +, behind it -";

/// All of them.
pub(super) const QUESTIONS: &[Question] = &[
    needed("name", "", Form::Text, "name of the plow", "as you call it"),
    needed(
        "front_wheels.diameter",
        "front_wheels",
        Form::Length,
        "front wheel, diameter",
        "from the floor to the top of the rim that rolls",
    ),
    needed(
        "front_wheels.runs_in",
        "front_wheels",
        GROUND,
        "what the front wheels run on",
        "land, or the floor of the furrow before",
    ),
    needed(
        "lower_links.length",
        "lower_links",
        Form::Measured,
        "lower links, length",
        "from pin to pin, middle to middle",
    ),
    needed(
        "lower_links.pins.plow_z",
        "lower_links.pins",
        Form::Measured,
        "lower links' pins at the plow, height",
        "from the land up to the middle of the pin",
    ),
    needed(
        "lower_links.pins.tractor_z",
        "lower_links.pins",
        Form::Measured,
        "lower links' pins at the tractor, height",
        "from the land up to the middle of the pin",
    ),
    needed(
        "top_link.length",
        "top_link",
        Form::Measured,
        "top link, length",
        "from pin to pin, middle to middle",
    ),
    needed("plow_hitch.x", "plow_hitch", Form::Measured, "hitch pin at the plow (H), place", X),
    needed(
        "plow_hitch.holes",
        "plow_hitch",
        Form::Holes,
        "holes at the plow (H), heights",
        "from the land up to the middle of each hole, lowest is number 1",
    ),
    optional(
        "plow_hitch.clearance_z",
        "plow_hitch",
        Form::Length,
        "lowest height of the pin at which nothing drags",
        "from the land up",
    ),
    optional(
        "plow_hitch.washer",
        "plow_hitch",
        Form::Length,
        "washer that the pin at the plow is packed with",
        "thickness of one",
    ),
    needed(
        "drawbar.length",
        "drawbar",
        Form::Measured,
        "drawbar or chain, length",
        "from pin to pin, middle to middle, pulled straight",
    ),
    needed(
        "tractor_hitch.holes",
        "tractor_hitch",
        Form::Holes,
        "holes at the tractor (T) or team, heights",
        "from the land up to the middle of each hole, lowest is number 1",
    ),
    optional(
        "tractor_hitch.washer",
        "tractor_hitch",
        Form::Length,
        "washer that the pin at the tractor is packed with",
        "thickness of one",
    ),
    needed("bottoms.count", "bottoms", Form::Count, "number of bottoms", "count them"),
    needed(
        "bottoms.cut_width",
        "bottoms",
        Form::Length,
        "width of cut of one bottom",
        "across, from share to share at the same point",
    ),
    needed(
        "bottoms.depth",
        "bottoms",
        Form::Length,
        "working depth: the thickness of the blocks",
        "from the furrow floor up to the land",
    ),
    needed(
        "bottoms.share",
        "bottoms",
        Form::Choice(&["sharp", "blunt", "worn"]),
        "condition of the shares",
        "sharp: new or freshly pointed",
    ),
    needed("bottoms.x", "bottoms", Form::Measured, "middle of the bottoms (B), place", X),
    optional(
        "bottoms.soil_force_z",
        "bottoms",
        Form::Measured,
        "height of the soil force, if a trial found it",
        "below the land and so below 0",
    ),
    needed("tail_wheel.x", "tail_wheel", Form::Measured, "tail wheel's axle (C), place", X),
    needed(
        "tail_wheel.diameter",
        "tail_wheel",
        Form::Length,
        "tail wheel, diameter",
        "from the floor to the top of the rim that rolls",
    ),
    needed(
        "tail_wheel.runs_in",
        "tail_wheel",
        GROUND,
        "what the tail wheel runs on",
        "land, or the floor of the furrow just cut",
    ),
    needed(
        "tail_wheel.load_table",
        "tail_wheel",
        Form::Table,
        "tail spring: how far it gives under which load",
        "at least two pairs, deflection then load, a ; between pairs",
    ),
    needed(
        "rolling_landside.x",
        "rolling_landside",
        Form::Measured,
        "rolling landside or heel (C), place",
        X,
    ),
    needed(
        "rolling_landside.resistance",
        "rolling_landside",
        Form::Number,
        "resistance of the rolling landside over its load",
        "usually about as in the example, by choice",
    ),
    needed("heel.x", "heel", Form::Measured, "heel (C), where it carries", X),
    needed(
        "heel.resistance",
        "heel",
        Form::Number,
        "friction of the heel over its load",
        "steel on soil, usually about as in the example, by choice",
    ),
    needed(
        "sole.friction",
        "sole",
        Form::Number,
        "friction of the share's point over its load",
        "steel on soil, usually about as in the example, by choice",
    ),
    optional(
        "rolling.coefficient",
        "front_wheels",
        Form::Number,
        "rolling resistance of the wheels over their load",
        "0.08 is taken if you leave it out",
    ),
    needed(
        "weight.total",
        "",
        Form::Weight,
        "weight: of the whole plow, or front + tail",
        "each end level on a scale; two weights with a + between them give the place of the weight too",
    ),
    needed("weight.x", "", Form::Measured, "place of the weight: where the plow balances", X),
    needed(
        "settings.today.plow_hole",
        "",
        Form::Text,
        "hole at the plow that the pin is in today",
        "its number from the lowest",
    ),
    needed(
        "settings.today.tractor_hole",
        "",
        Form::Text,
        "hole at the tractor or team that it is in today",
        "its number from the lowest",
    ),
];

/// A kind of plow: its name, what it is, its example and its drawing.
pub(super) struct Shape {
    pub name: &'static str,
    pub what: &'static str,
    pub example: &'static str,
    pub drawing: &'static str,
}

macro_rules! example {
    ($file:literal) => {
        include_str!(concat!(env!("CARGO_MANIFEST_DIR"), "/../sample-runs/plows/", $file, ".toml"))
    };
}

const TRAILED: &str = r"
   C --+------- B -------+-- 0 --+-- H ------drawbar------ T
  tail wheel  bottoms    front axle  holes at the plow     holes at the tractor
  <------- behind, - ------- 0 ------- forward, + ------->";

/// The kinds.
pub(super) const SHAPES: &[Shape] = &[
    Shape {
        name: "trailed",
        what: "front wheels and a tail wheel",
        example: example!("two-bottom"),
        drawing: TRAILED,
    },
    Shape {
        name: "landside",
        what: "trailed, its tail on a rolling landside",
        example: example!("three-bottom-rolling-landside"),
        drawing: r"
   C --+------- B -------+-- 0 --+-- H ------drawbar------ T
  landside    bottoms    front axle  holes at the plow     holes at the tractor
  <------- behind, - ------- 0 ------- forward, + ------->",
    },
    Shape {
        name: "semi-mounted",
        what: "front on the lower links, a tail wheel behind",
        example: example!("four-bottom-semi-mounted"),
        drawing: r"
   C --+------- B -----------+-- 0 = H ----lower links---- T
  tail wheel  bottoms        pins at the plow              pivots at the tractor
  <------- behind, - ----------- 0 ------ forward, + ---->",
    },
    Shape {
        name: "mounted",
        what: "lower links free to rise and fall, and a top link",
        example: example!("three-bottom-mounted"),
        drawing: r"
                               /-- H ------top link------- T
   C --+------- B -----------+-- 0 --------lower links---- pins
  heel        bottoms        pins at the plow              at the tractor
  <------- behind, - ----------- 0 ------ forward, + ---->",
    },
    Shape {
        name: "walking",
        what: "no wheels, behind a team",
        example: example!("one-bottom-walking"),
        drawing: r"
   C --+----- B ------+-- 0 --+-- H ------chain------ T
  heel      bottom    point of   holes at the plow    hitch at the team
                      the share
  <------ behind, - ----- 0 ------ forward, + ------>",
    },
];
