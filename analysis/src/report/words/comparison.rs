//! The outcome of a comparison: one headline and its reasons, for the terminal and for the page, and what the reader
//! must know before believing it.

use super::{counted, sentence};
use crate::compare::{
    Answer, ClassCount, ComparedFigure, Comparison, ComparisonWarning, ConclusionClass, Condition,
    FigureComparison, Layout, Outcome, Side,
};
use crate::report::figure_rows::FigureKind;
use crate::report::units::{Units, signed};
use stats::two_samples::RUNS_MIN;

/// The answer in a few words, and the sentences that carry it, the weightiest first.
pub struct Headline {
    pub headline: String,
    pub reasons: Vec<String>,
}

/// The settings, and how many runs of each there are.
pub fn sides(comparison: &Comparison) -> String {
    let Comparison { setting_a, setting_b, names_a, names_b, .. } = comparison;
    let runs = |names: &[String]| counted(names.len(), "run", "runs");
    format!("A: {setting_a}, {}; B: {setting_b}, {}", runs(names_a), runs(names_b))
}

/// The figures that are not shown to differ, those with a bound first; none if all are.
pub fn not_shown(comparison: &Comparison, units: Units) -> Option<String> {
    let of = |class| comparison.figures.iter().filter(move |figure| figure.conclusion.class == class);
    let label = |figure: &FigureComparison| name_in_field(figure.figure).to_owned();
    let bounded = of(ConclusionClass::ShownToBeUnder)
        .map(|figure| format!("difference in {} {}", label(figure), conclusion_words(figure, units)));
    let open: Vec<String> = of(ConclusionClass::NotShown).map(label).collect();
    let open = (!open.is_empty()).then(|| format!("not shown to differ: {}", open.join(", ")));
    let told: Vec<String> = bounded.chain(open).collect();
    (!told.is_empty()).then(|| sentence(&told.join("; ")))
}

/// What a figure is called where it is talked of: without how it is worked out.
fn name_in_field(figure: ComparedFigure) -> &'static str {
    figure.label().split(" (").next().unwrap_or_default()
}

/// How a figure is shown.
pub fn kind_of(figure: ComparedFigure) -> FigureKind {
    match figure {
        ComparedFigure::DepthSdMm | ComparedFigure::DepthMeanMm => FigureKind::SmallLength,
        ComparedFigure::BalanceIndex | ComparedFigure::TailCv => FigureKind::Number,
        ComparedFigure::LiftedShare => FigureKind::Share,
        ComparedFigure::BobbingRmsN | ComparedFigure::TailMeanN | ComparedFigure::PullMeanN => {
            FigureKind::Force
        }
    }
}

/// The conclusion on one figure; a bound carries its unit.
pub fn conclusion_words(figure: &FigureComparison, units: Units) -> String {
    match (figure.conclusion.class, figure.conclusion.under) {
        (ConclusionClass::Shown, _) => "shown".to_owned(),
        (ConclusionClass::ShownToBeUnder, Some(bound)) => {
            let kind = kind_of(figure.figure);
            format!("shown to be under {} {}", kind.upper_bound(bound, units), kind.unit(units))
                .trim()
                .to_owned()
        }
        _ => "not shown".to_owned(),
    }
}

/// The headline of a comparison.
pub fn headline(comparison: &Comparison, units: Units) -> Headline {
    let names = Names::of(comparison);
    let outcome = &comparison.outcome;
    let headline = match outcome.answer {
        Answer::Better(side) => format!("{} is better", names.name(side)),
        Answer::EachBetterAtSomething => "each is better at something".to_owned(),
        Answer::DifferOnly => "they differ, neither is shown to be better".to_owned(),
        Answer::NoDifferenceShown => "no difference shown".to_owned(),
        Answer::TooFewPasses => "too few passes to tell".to_owned(),
    };
    let mut reasons: Vec<String> = names.verdicts(outcome).into_iter().collect();
    let shown = comparison.figures.iter().filter(|f| f.conclusion.class == ConclusionClass::Shown);
    reasons.extend(shown.map(|figure| names.difference(figure, outcome, units)));
    match outcome.answer {
        Answer::TooFewPasses => reasons.push(
            "With fewer than three passes of a setting no difference can be shown: the field's own variation \
             from pass to pass is not known."
                .to_owned(),
        ),
        Answer::NoDifferenceShown => reasons.push(
            "No figure is shown to differ by more than the field's own variation from pass to pass."
                .to_owned(),
        ),
        _ => {}
    }
    Headline { headline, reasons }
}

/// What the sides are called: by their settings, or A and B if both have the same.
struct Names<'a> {
    a: &'a str,
    b: &'a str,
}

impl<'a> Names<'a> {
    fn of(comparison: &'a Comparison) -> Self {
        match (comparison.setting_a.as_str(), comparison.setting_b.as_str()) {
            (a, b) if a == b => Self { a: "A", b: "B" },
            (a, b) => Self { a, b },
        }
    }

    fn name(&self, side: Side) -> &'a str {
        match side {
            Side::A => self.a,
            Side::B => self.b,
        }
    }

    /// The verdicts of both sides, the better one first; none where no run has one.
    fn verdicts(&self, outcome: &Outcome) -> Option<String> {
        let counted = |side: Side| {
            let classes = match side {
                Side::A => &outcome.classes_a,
                Side::B => &outcome.classes_b,
            };
            let all: usize = classes.iter().map(|count| count.runs).sum();
            let one = |ClassCount { class, runs }: &ClassCount| format!("{class} in {runs} of {all}");
            format!("{} {}", self.name(side), classes.iter().map(one).collect::<Vec<_>>().join(", "))
        };
        let known = |classes: &[ClassCount]| {
            classes.iter().any(|count| count.class != statics::verdict::Class::NotShown)
        };
        let order =
            if outcome.answer == Answer::Better(Side::B) { [Side::B, Side::A] } else { [Side::A, Side::B] };
        (known(&outcome.classes_a) || known(&outcome.classes_b))
            .then(|| format!("The drawbar: {}.", order.map(counted).join("; ")))
    }

    /// One figure that is shown to differ, told of the better side, or of the one that has more.
    fn difference(&self, figure: &FigureComparison, outcome: &Outcome, units: Units) -> String {
        let name = name_in_field(figure.figure);
        let kind = kind_of(figure.figure);
        // The interval of a difference that is shown lies on one side of 0.
        let size = figure.difference.map(f64::abs).unwrap_or(figure.difference);
        if figure.figure == ComparedFigure::BalanceIndex {
            return format!(
                "{name}: {} {}, {} {}; they differ by {} ({}).",
                self.a,
                signed(figure.mean_a),
                self.b,
                signed(figure.mean_b),
                kind.number(size.value, units),
                kind.interval(&size, units)
            );
        }
        let more = if figure.difference.value > 0.0 { Side::A } else { Side::B };
        let subject = match outcome.answer {
            Answer::Better(side) => side,
            _ => more,
        };
        format!(
            "{name}: {} has {} {} {} ({}).",
            self.name(subject),
            kind.number(size.value, units),
            kind.unit(units),
            if subject == more { "more" } else { "less" },
            kind.interval(&size, units)
        )
        .replace("  ", " ")
    }
}

/// What the reader must know before believing it, one sentence each.
pub fn warnings(comparison: &Comparison) -> Vec<String> {
    comparison.warnings.iter().map(warning).collect()
}

fn warning(warning: &ComparisonWarning) -> String {
    match warning {
        ComparisonWarning::FewPasses { passes_a, passes_b } => format!(
            "{passes_a} and {passes_b} passes: the field's own variation from pass to pass is not covered by these \
             intervals; drive at least {RUNS_MIN} passes of each setting, in alternating order"
        ),
        ComparisonWarning::SettingAssumed { runs } => format!(
            "{} recorded in a setting that nobody had confirmed: the comparison holds only if the hitch was in it",
            if *runs == 1 { "1 run was".to_owned() } else { format!("{runs} runs were") }
        ),
        ComparisonWarning::NotAlternating => {
            "the passes were not laid out in alternating order: a field that changes from one side to the other can \
             look like a difference between the settings"
                .to_owned()
        }
        ComparisonWarning::PermutationBound { least_p } => format!(
            "with so few passes chance is hard to rule out: a clear difference is believed all the same, and more passes \
             make it surer (permutation test: p not under {least_p:.2}, believed at that bound where the t test is clear)"
        ),
        ComparisonWarning::MixedSettings { side } => {
            let side = Names { a: "A", b: "B" }.name(*side);
            format!("the runs of {side} were not all made with one setting")
        }
        ComparisonWarning::NotTheSame { what, names } => {
            let what = match what {
                Condition::Plow => "plows",
                Condition::Shares => "shares",
                Condition::Field => "fields",
            };
            format!(
                "the runs were not all made with the same {what} ({}): a difference may be theirs and not the setting's",
                names.join(", ")
            )
        }
        ComparisonWarning::SameHoles => {
            "A and B have the same holes: what differs is not the setting".to_owned()
        }
        ComparisonWarning::NothingInCommon => "the two sides have no figure in common".to_owned(),
        ComparisonWarning::LeftOut { figure, runs } => {
            format!("{} is not compared: {runs} of the runs cannot give it", figure.label())
        }
        ComparisonWarning::CannotBe { runs } => format!(
            "the readings of {} cannot be right (`summary` says why), so nothing is compared: leave {} out",
            runs.join(", "),
            if runs.len() == 1 { "it" } else { "them" }
        ),
    }
}

/// How the settings are compared, a sentence each.
pub(in crate::report) fn method(comparison: &Comparison) -> Vec<&'static str> {
    let Tests { sentence, effect, .. } = tests(&comparison.layout);
    let mut all: Vec<&str> = shown_means(&comparison.layout).into_iter().collect();
    all.extend([
        IN_BRACKETS,
        sentence,
        "Holm: p adjusted for the number of figures. A difference is shown when that is under 0.05.",
        "Difference is A less B, with its 95 % interval.",
    ]);
    all.extend(effect.map(|effect| effect.sentence));
    all.extend(has_bounds(comparison).then_some(
        "Shown to be under: two one-sided t tests at 5 % each, so the 90 % interval lies within that bound.",
    ));
    all
}

/// What "shown" means, for whoever has driven the passes: the figures come after it. Nothing where too few were driven to
/// show anything.
pub(in crate::report) const fn shown_means(layout: &Layout) -> Option<&'static str> {
    match layout {
        Layout::Blocks => Some(
            "Shown: passes of both settings that were driven one after the other differ by more than such pairs do by chance; \
             a field alone would bring that about in fewer than 5 of 100 comparisons.",
        ),
        Layout::Independent => Some(
            "Shown: the settings differ by more than passes of one setting do among themselves; a field alone would bring \
             that about in fewer than 5 of 100 comparisons.",
        ),
        Layout::TooFew => None,
    }
}

/// What stands in brackets, in the same way.
pub(in crate::report) const IN_BRACKETS: &str =
    "In brackets: from where to where the difference may truly lie (95 % sure).";

/// The same in a line.
pub(in crate::report) fn method_line(comparison: &Comparison) -> String {
    let line = tests(&comparison.layout).line;
    if has_bounds(comparison) {
        return format!("{line}; shown to be under: two one-sided tests at 5 %, a 90 % interval");
    }
    line.to_owned()
}

fn has_bounds(comparison: &Comparison) -> bool {
    let bounded = |figure: &FigureComparison| figure.conclusion.class == ConclusionClass::ShownToBeUnder;
    comparison.figures.iter().any(bounded)
}

/// What a layout is tested by.
struct Tests {
    sentence: &'static str,
    line: &'static str,
    effect: Option<Effect>,
}

/// An effect size: its short name, and what it is.
pub(in crate::report) struct Effect {
    pub name: &'static str,
    sentence: &'static str,
}

const fn tests(layout: &Layout) -> Tests {
    match layout {
        Layout::Blocks => Tests {
            sentence: "Passes lie in blocks of two, one of each setting: paired t test, and all sign flips of the pairs.",
            line: "paired t test and sign flips over blocks of two passes; p adjusted by Holm",
            effect: Some(Effect {
                name: "Hedges g_z",
                sentence: "Hedges' g_z: mean of the differences A less B over their SD, freed of bias, with its 95 % interval.",
            }),
        },
        Layout::Independent => Tests {
            sentence: "Welch's t test on per-run figures, and the permutation test over all splits.",
            line: "Welch's t test and permutation test; p adjusted by Holm",
            effect: Some(Effect {
                name: "Hedges g",
                sentence: "Hedges' g: A's mean less B's over the pooled SD, freed of bias, with its 95 % interval.",
            }),
        },
        Layout::TooFew => Tests {
            sentence: "Fewer than three passes of a setting: intervals come from within the runs only.",
            line: "intervals from within the runs only",
            effect: None,
        },
    }
}

/// The effect size of a comparison, if it has one.
pub(in crate::report) const fn effect(comparison: &Comparison) -> Option<Effect> {
    tests(&comparison.layout).effect
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::compare::{Balance, Conditions, PassFigures, compare};
    use crate::report::Brief;
    use statics::verdict::Class;
    use stats::Estimate;

    fn runs(
        setting: &str,
        first_hour: u32,
        class: Class,
        index: [f64; 3],
        tail_n: [f64; 3],
    ) -> Vec<PassFigures> {
        let exact = |value: f64| Estimate { value, low: value, high: value };
        let run = |(pass, (b, tail_n)): (u32, (f64, f64))| PassFigures {
            run: format!("{setting}-{pass}"),
            setting: setting.to_owned(),
            started: format!("2027-04-11T{:02}:00", first_hour + 2 * pass),
            conditions: Conditions { holes: (setting.to_owned(), String::new()), ..Conditions::default() },
            balance: Balance { class, ..Balance::default() },
            figures: [(ComparedFigure::BalanceIndex, exact(b)), (ComparedFigure::TailMeanN, exact(tail_n))]
                .into(),
            own: Vec::new(),
            cannot_be: false,
        };
        (0..).zip(index.into_iter().zip(tail_n)).map(run).collect()
    }

    /// What a plowman asks first is which setting is better, and why.
    #[test]
    fn the_better_setting_is_named_first_with_its_verdicts_and_its_tail_load() {
        let flat = runs("flat", 1, Class::TooFlat, [0.90, 0.93, 0.95], [420.0, 431.0, 415.0]);
        let middle = runs("middle", 2, Class::Balanced, [0.02, 0.08, -0.01], [1100.0, 1093.0, 1108.0]);
        let said = headline(&compare(&flat, &middle).unwrap(), Units::Us);
        assert_eq!(said.headline, "middle is better");
        assert_eq!(said.reasons[0], "The drawbar: middle balanced in 3 of 3; flat too flat in 3 of 3.");
        assert!(said.reasons[1].starts_with("balance index: flat +0.93, middle +0.03; they differ by 0.90"));
        assert!(
            said.reasons[2].starts_with("mean tail load: middle has 152 lbf more ("),
            "{:?}",
            said.reasons
        );
    }

    /// Found: on a phone in the field the first words of a comparison were those of a statistician.
    #[test]
    fn what_is_shown_is_told_in_words_of_the_field_before_the_tests_are_named() {
        for layout in [Layout::Blocks, Layout::Independent] {
            let told = format!("{} {IN_BRACKETS}", shown_means(&layout).unwrap());
            for word in [" p ", "t test", "permutation", "Holm", "interval"] {
                assert!(!told.contains(word), "{word}: {told}");
            }
        }
        assert_eq!(shown_means(&Layout::TooFew), None, "nothing is shown then");
        let flat = runs("flat", 1, Class::TooFlat, [0.90, 0.93, 0.95], [420.0, 431.0, 415.0]);
        let middle = runs("middle", 2, Class::Balanced, [0.02, 0.08, -0.01], [1100.0, 1093.0, 1108.0]);
        let brief = Brief::of_comparison(&compare(&flat, &middle).unwrap(), Units::Si).lines;
        let [.., last] = &brief[..] else { panic!("{brief:?}") };
        assert!(last.starts_with("method: ") && last.contains("Holm"), "{brief:?}");
        let first = brief.iter().position(|line| line.contains("test")).unwrap();
        assert!(brief.iter().position(|line| line == IN_BRACKETS).unwrap() < first, "{brief:?}");
    }

    #[test]
    fn warnings_say_what_the_difference_may_be_of() {
        let names = vec!["here".to_owned(), "there".to_owned()];
        let plows = warning(&ComparisonWarning::NotTheSame { what: Condition::Plow, names });
        assert!(plows.contains("same plows (here, there)"), "{plows}");
        let few = warning(&ComparisonWarning::FewPasses { passes_a: 1, passes_b: 2 });
        assert!(few.starts_with("1 and 2 passes") && few.contains("own variation"), "{few}");
        let left_out = ComparisonWarning::LeftOut { figure: ComparedFigure::DepthSdMm, runs: 1 };
        assert!(warning(&left_out).contains("1 of the runs cannot"));
        assert!(warning(&ComparisonWarning::SameHoles).contains("same holes"));
        let assumed = warning(&ComparisonWarning::SettingAssumed { runs: 1 });
        assert!(assumed.starts_with("1 run was recorded in a setting that nobody"), "{assumed}");
    }

    #[test]
    fn no_difference_says_what_it_is_measured_by() {
        let same =
            |setting, hour| runs(setting, hour, Class::Balanced, [0.1, -0.1, 0.0], [400.0, 500.0, 450.0]);
        let said = headline(&compare(&same("one", 1), &same("other", 2)).unwrap(), Units::Si);
        assert_eq!(said.headline, "no difference shown");
        assert!(said.reasons.last().unwrap().contains("from pass to pass"), "{:?}", said.reasons);
    }
}
