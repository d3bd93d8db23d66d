//! The balance as it is shown, or why it is not.

use ingest::plow::ChannelRole;
use serde::{Serialize, Serializer};
use statics::identify::IdentifyError;
use statics::judge::Judged;
use statics::verdict::{Class, ClassProbabilities};

/// The balance of the last seconds.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[serde(tag = "state", rename_all = "snake_case")]
pub enum Balance {
    /// It is shown.
    Shown(Shown),
    /// It is not.
    NotShown {
        /// Why.
        #[serde(serialize_with = "as_sentence")]
        why: NotShown,
    },
}

/// A balance that is shown.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Shown {
    /// The balance index b: −1 front wheels off the ground, 0 on the steady point, +1 tail wheel off.
    pub b: f64,
    /// Lower end of its 95 % interval, for the process.
    pub low: f64,
    /// Upper end.
    pub high: f64,
    /// Probability of each class, which add up to 1.
    pub too_flat: f64,
    /// Leaning flat.
    pub leaning_flat: f64,
    /// Balanced.
    pub balanced: f64,
    /// Leaning steep.
    pub leaning_steep: f64,
    /// Too steep.
    pub too_steep: f64,
    /// These in words, the likeliest first, without those that hardly can be: `balanced 62 %`.
    pub chances: Vec<String>,
    /// The class that these probabilities allow to be stated.
    #[serde(serialize_with = "label")]
    pub class: Class,
    /// What is to be said in large letters: the class, "looks …" where it is not firm, or "shares first".
    pub word: String,
    /// Whether the word would stand though one entry of the description were off by a usual slip.
    pub firm: bool,
    /// Whether the soil is shown to lift the plow: then the shares come first, and no hole helps.
    pub soil_lifts: bool,
    /// Of how long it is, in s.
    pub over_s: f64,
}

/// Why the balance is not shown. Each is one sentence.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum NotShown {
    /// Nobody has said how the plow is hitched.
    #[error("no setting is chosen")]
    NoSetting,
    /// The plow is lifted, or not pulled.
    #[error("the plow is not in the ground")]
    NotInGround,
    /// Not for long enough.
    #[error("it comes in {:.0} s, if the plow stays in the ground", .in_s.max(1.0))]
    InGroundTooShort {
        /// How much longer it takes, in s.
        in_s: f64,
    },
    /// For more than 5 % of the time no rows came, or no more come.
    #[error("rows are missing")]
    RowsMissing,
    /// A channel that it needs is not measured.
    #[error("{clause}")]
    NotMeasured {
        /// What is missing and what would do.
        clause: String,
    },
    /// A channel that never moves cannot be believed.
    #[error("{} never moves: check its sensor and cable", .channel.in_words())]
    Constant {
        /// Which.
        channel: ChannelRole,
    },
    /// Readings and description cannot both be right.
    #[error("plow description and readings contradict each other")]
    Contradiction,
    /// The statics gives no figures of such numbers.
    #[error("{0}")]
    NoStatics(IdentifyError),
    /// The index may be too many things.
    #[error("b is between {low:+.2} and {high:+.2}: too wide to say")]
    TooWide {
        /// Lower end of the 95 % interval of b.
        low: f64,
        /// Upper end.
        high: f64,
    },
    /// Balanced on the mean, but its carrier lifts.
    #[error("balanced on the mean, but the {} too often to say so", if *front { "front lifts" } else { "tail lifts" })]
    Lifts {
        /// Whether it is the front's.
        front: bool,
    },
}

impl Balance {
    /// What may be said of a judgement on `over_s`.
    #[must_use]
    pub fn of(judged: &Judged, front: bool, over_s: f64) -> Self {
        match Shown::of(judged, front, over_s) {
            Ok(shown) => Self::Shown(shown),
            Err(why) => Self::NotShown { why },
        }
    }
}

impl Shown {
    fn of(judged: &Judged, front: bool, over_s: f64) -> Result<Self, NotShown> {
        let found = judged.identified.as_ref().map_err(|error| match error {
            IdentifyError::Contradiction { .. } => NotShown::Contradiction,
            other => NotShown::NoStatics(other.clone()),
        })?;
        let b = found.balance_index;
        let verdict = &judged.verdict;
        let (soil_lifts, firm) = (found.lifts_shown(), verdict.firm);
        let chances = verdict.chances.ok_or(NotShown::TooWide { low: b.low, high: b.high })?;
        let ClassProbabilities { too_flat, leaning_flat, balanced, leaning_steep, too_steep, .. } = chances;
        let word = match (verdict.class, soil_lifts) {
            (_, true) if firm => "shares first".to_owned(),
            (_, true) => "shares look worn".to_owned(),
            (Class::NotShown, _) if chances.stated() == Class::Balanced => {
                return Err(NotShown::Lifts { front });
            }
            (Class::NotShown, _) => return Err(NotShown::TooWide { low: b.low, high: b.high }),
            (class, _) if firm => class.label().to_owned(),
            (class, _) => format!("looks {class}"),
        };
        Ok(Self {
            b: b.value,
            low: b.low,
            high: b.high,
            too_flat,
            leaning_flat,
            balanced,
            leaning_steep,
            too_steep,
            chances: in_words([
                (Class::TooSteep, too_steep),
                (Class::LeaningSteep, leaning_steep),
                (Class::Balanced, balanced),
                (Class::LeaningFlat, leaning_flat),
                (Class::TooFlat, too_flat),
            ]),
            class: verdict.class,
            word,
            firm,
            soil_lifts,
            over_s,
        })
    }
}

/// From here on a class is worth its room.
const CHANCE_TOLD: f64 = 0.05;

fn in_words(mut chances: [(Class, f64); 5]) -> Vec<String> {
    chances.sort_by(|(_, one), (_, other)| other.total_cmp(one));
    let told = chances.into_iter().filter(|(_, chance)| *chance >= CHANCE_TOLD);
    told.map(|(class, chance)| format!("{class} {:.0} %", 100.0 * chance)).collect()
}

fn as_sentence<S: Serializer>(why: &NotShown, serializer: S) -> Result<S::Ok, S::Error> {
    serializer.collect_str(why)
}

fn label<S: Serializer>(class: &Class, serializer: S) -> Result<S::Ok, S::Error> {
    serializer.serialize_str(class.label())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_likeliest_is_told_first_and_what_hardly_can_be_is_not() {
        let chances = [
            (Class::TooSteep, 0.0),
            (Class::LeaningSteep, 0.04),
            (Class::Balanced, 0.32),
            (Class::LeaningFlat, 0.59),
            (Class::TooFlat, 0.05),
        ];
        assert_eq!(in_words(chances), ["leaning flat 59 %", "balanced 32 %", "too flat 5 %"]);
    }
}
