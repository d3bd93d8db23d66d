//! What is asked, as data: in the order in which one walks round the plow.

/// How an answer is read.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Form {
    Text,
    /// A hole of a row that was described before: its number, or its height with the unit.
    Hole(End),
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

    pub(super) const fn is_one_figure(self) -> bool {
        matches!(self, Self::Length | Self::Measured | Self::Count | Self::Number)
    }
}

/// An end of the member that pulls.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum End {
    Plow,
    Tractor,
}

/// Where the tape is held; the letters are those of the drawings.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Tape {
    /// Nothing to be seen at the plow.
    None,
    /// Along the floor from 0 to H.
    HitchPlace,
    /// To B.
    BottomsPlace,
    /// To C.
    TailPlace,
    /// To where it balances.
    WeightPlace,
    /// Up from the land to each hole.
    Holes(End),
    /// Up from the land to the lowest hole that clears.
    Clearance,
    /// Up from the land to a pin of the lower links.
    LinkPin(End),
    /// From pin to pin: drawbar, chain, top link, or lower links with holes of their own.
    Link,
    /// The lower links, where holes are the top link's.
    LowerLinks,
    FrontWheel,
    TailWheel,
    RunsIn,
    Depth,
    Width,
    Washer,
    Spring,
    SoilForce,
    Scales,
    /// Which hole.
    Hole(End),
    Count,
}

/// One question.
#[derive(Debug)]
pub(super) struct Question {
    /// Dotted key in `plow.toml`.
    pub key: &'static str,
    /// Table that the example of a kind has where this kind is asked it; empty: all kinds.
    pub beside: &'static str,
    pub form: Form,
    /// What is missed where it is left out, if it may be.
    pub left_out: Option<&'static str>,
    pub what: &'static str,
    /// How it is measured.
    pub how: &'static str,
    pub tape: Tape,
}

const fn needed(
    key: &'static str,
    beside: &'static str,
    (form, tape): (Form, Tape),
    what: &'static str,
    how: &'static str,
) -> Question {
    Question { key, beside, form, left_out: None, what, how, tape }
}

const fn optional(
    key: &'static str,
    beside: &'static str,
    asked: (Form, Tape),
    what: &'static str,
    (how, left_out): (&'static str, &'static str),
) -> Question {
    Question { left_out: Some(left_out), ..needed(key, beside, asked, what, how) }
}

const NO_WASHER: &str = "then no move can be tried in washers";

const GROUND: Form = Form::Choice(&["land", "furrow"]);
const X: &str = "along the floor from 0 to the point; forward of 0 counts +, behind it -";
const WHEEL: &str = "from what it stands on to the top of the rim that rolls";
const PIN: &str = "from the land up to the middle of the pin";
const HOLES: &str = "from the land up to the middle of each hole; the lowest is number 1";
const MIDDLES: &str = "from pin to pin, middle to middle";

/// All of them.
pub(super) const QUESTIONS: &[Question] = &[
    needed("name", "", (Form::Text, Tape::None), "name of the plow", "as you call it"),
    needed(
        "front_wheels.diameter",
        "front_wheels",
        (Form::Length, Tape::FrontWheel),
        "front wheel, diameter",
        WHEEL,
    ),
    needed(
        "front_wheels.runs_in",
        "front_wheels",
        (GROUND, Tape::RunsIn),
        "what the front wheels run on",
        "land, or the floor of the furrow before; one on each: what the one that carries more runs on",
    ),
    needed(
        "lower_links.length",
        "lower_links",
        (Form::Measured, Tape::LowerLinks),
        "lower links, length",
        MIDDLES,
    ),
    needed(
        "lower_links.pins.plow_z",
        "lower_links.pins",
        (Form::Measured, Tape::LinkPin(End::Plow)),
        "lower links' pins at the plow, height",
        PIN,
    ),
    needed(
        "lower_links.pins.tractor_z",
        "lower_links.pins",
        (Form::Measured, Tape::LinkPin(End::Tractor)),
        "lower links' pins at the tractor, height",
        PIN,
    ),
    needed("top_link.length", "top_link", (Form::Measured, Tape::Link), "top link, length", MIDDLES),
    needed(
        "plow_hitch.x",
        "plow_hitch",
        (Form::Measured, Tape::HitchPlace),
        "hitch pin at the plow (H), place",
        X,
    ),
    needed(
        "plow_hitch.holes",
        "plow_hitch",
        (Form::Holes, Tape::Holes(End::Plow)),
        "holes at the plow (H), heights",
        HOLES,
    ),
    optional(
        "plow_hitch.clearance_z",
        "plow_hitch",
        (Form::Length, Tape::Clearance),
        "lowest height of the pin at which nothing drags",
        ("from the land up", "then no move is held back for what may drag"),
    ),
    optional(
        "plow_hitch.washer",
        "plow_hitch",
        (Form::Length, Tape::Washer),
        "washer that the pin at the plow is packed with",
        ("thickness of one", NO_WASHER),
    ),
    needed(
        "drawbar.length",
        "drawbar",
        (Form::Measured, Tape::Link),
        "drawbar or chain, length",
        "from pin to pin, middle to middle, pulled straight",
    ),
    needed(
        "tractor_hitch.holes",
        "tractor_hitch",
        (Form::Holes, Tape::Holes(End::Tractor)),
        "holes at the tractor (T) or team, heights",
        HOLES,
    ),
    optional(
        "tractor_hitch.washer",
        "tractor_hitch",
        (Form::Length, Tape::Washer),
        "washer that the pin at the tractor is packed with",
        ("thickness of one", NO_WASHER),
    ),
    needed("bottoms.count", "bottoms", (Form::Count, Tape::Count), "number of bottoms", "count them"),
    needed(
        "bottoms.cut_width",
        "bottoms",
        (Form::Length, Tape::Width),
        "width of cut of one bottom",
        "across, from share to share at the same point; of a single one from landside to wing",
    ),
    needed(
        "bottoms.depth",
        "bottoms",
        (Form::Length, Tape::Depth),
        "working depth",
        "from the furrow floor up to the land; blocks under a land wheel are as thick",
    ),
    needed(
        "bottoms.share",
        "bottoms",
        (Form::Choice(&["sharp", "blunt", "worn"]), Tape::None),
        "condition of the shares",
        "sharp: new or freshly pointed",
    ),
    needed(
        "bottoms.x",
        "bottoms",
        (Form::Measured, Tape::BottomsPlace),
        "middle of the bottoms (B), place",
        X,
    ),
    optional(
        "bottoms.soil_force_z",
        "bottoms",
        (Form::Measured, Tape::SoilForce),
        "height of the soil force, if a trial found it",
        (
            "from the land down, below 0",
            "then it is taken anywhere within the depth, and what rests on it has wider intervals",
        ),
    ),
    needed(
        "tail_wheel.x",
        "tail_wheel",
        (Form::Measured, Tape::TailPlace),
        "tail wheel's axle (C), place",
        X,
    ),
    needed(
        "tail_wheel.diameter",
        "tail_wheel",
        (Form::Length, Tape::TailWheel),
        "tail wheel, diameter",
        WHEEL,
    ),
    needed(
        "tail_wheel.runs_in",
        "tail_wheel",
        (GROUND, Tape::RunsIn),
        "what the tail wheel runs on",
        "land, or the floor of the furrow just cut",
    ),
    needed(
        "tail_wheel.load_table",
        "tail_wheel",
        (Form::Table, Tape::Spring),
        "tail spring: how far it gives under which load",
        "known weights on the tail: at least two pairs, deflection then load, a ; between pairs",
    ),
    needed(
        "rolling_landside.x",
        "rolling_landside",
        (Form::Measured, Tape::TailPlace),
        "rolling landside (C), where it touches",
        X,
    ),
    needed(
        "rolling_landside.resistance",
        "rolling_landside",
        (Form::Number, Tape::None),
        "resistance of the rolling landside over its load",
        "not measured: chosen",
    ),
    needed("heel.x", "heel", (Form::Measured, Tape::TailPlace), "heel (C), where it carries", X),
    needed(
        "heel.resistance",
        "heel",
        (Form::Number, Tape::None),
        "friction of the heel over its load",
        "steel on soil; not measured: chosen",
    ),
    needed(
        "sole.friction",
        "sole",
        (Form::Number, Tape::None),
        "friction of the share's point over its load",
        "steel on soil; not measured: chosen",
    ),
    optional(
        "rolling.coefficient",
        "front_wheels",
        (Form::Number, Tape::None),
        "rolling resistance of the wheels over their load",
        ("not measured: chosen", "then 0.08 is taken"),
    ),
    needed(
        "weight.total",
        "",
        (Form::Weight, Tape::Scales),
        "weight: of the whole plow, or front + tail",
        "each end level on a scale, on blocks: shares clear of the floor, nothing else bearing; two weights with a + between \
         them give the place of the weight too",
    ),
    needed(
        "weight.x",
        "",
        (Form::Measured, Tape::WeightPlace),
        "place of the weight (W): where the plow balances",
        X,
    ),
    needed(
        "settings.today.plow_hole",
        "",
        (Form::Hole(End::Plow), Tape::Hole(End::Plow)),
        "hole at the plow that the pin is in today",
        "its number from the lowest, or its height with the unit",
    ),
    needed(
        "settings.today.tractor_hole",
        "",
        (Form::Hole(End::Tractor), Tape::Hole(End::Tractor)),
        "hole at the tractor or team that it is in today",
        "its number from the lowest, or its height with the unit",
    ),
];
