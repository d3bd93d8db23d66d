//! What is to be told of a run's recording and readings.

use super::{calibration, draft};
use crate::report::units::Units;
use crate::summary::Summary;
use ingest::plow::Plow;
use ingest::quantity::{Length, SaidIn};
use signals::run::{CsvError, MissingRows, Notice, SpeedFrom};
use statics::believable::{DEPTH_ASKED, depth_off};
use statics::identify::IdentifyError;
use statics::verdict::Reason;

/// Everything of a run that is not as it should be, in the order of its working-out.
pub fn run_notices(summary: &Summary, plow: &Plow, units: Units) -> Vec<String> {
    let of_run = summary.quality.notices.iter().map(|one| notice(one, plow, units));
    let of_calibrations = calibration::warnings(&summary.calibration, units);
    of_run
        .chain(of_calibrations)
        .chain(summary.draft.as_ref().and_then(|d| draft::warning(d, units)))
        .chain(depth_asked(summary, plow, units))
        .collect()
}

/// A depth that makes one ask, where it is not what the verdict is withheld for.
fn depth_asked(summary: &Summary, plow: &Plow, units: Units) -> Option<String> {
    let depth = Length::from_m(summary.depth.mean_mm.value / 1000.0);
    let told = |reason: &Reason| matches!(reason, Reason::NoStatics { why: IdentifyError::Unbelievable(_) });
    let off = depth_off(plow, depth, DEPTH_ASKED).filter(|_| !summary.verdict.reasons.iter().any(told));
    off.map(|off| off.said_in(units.into()))
}

/// That nobody had said that the hitch was in this setting; none of a run of which somebody had.
pub fn assumed(summary: &Summary) -> Option<String> {
    summary.quality.notices.iter().find_map(|notice| match notice {
        Notice::SettingAssumed { setting } => Some(setting_assumed(setting)),
        _ => None,
    })
}

fn setting_assumed(setting: &str) -> String {
    format!(
        "Setting not confirmed: the recorder took \"{setting}\" by itself, and nobody had said that the hitch was in it. \
         Verdict and move hold only if it was."
    )
}

/// One notice.
pub(crate) fn notice(notice: &Notice, plow: &Plow, units: Units) -> String {
    match notice {
        Notice::SettingAssumed { setting } => setting_assumed(setting),
        Notice::WorkingPartTorn { missing_s, share } => format!(
            "ROWS ARE MISSING FROM THE WORKING PART: {missing_s:.2} s of it ({:.1} %) were recorded and are not in the \
             file; the rest is taken for one pass, and nothing is put in their place",
            100.0 * share
        ),
        Notice::NotWhole { what } => what.to_string(),
        Notice::NoRows { path, header_only } => {
            CsvError::Empty { path: path.clone(), header_only: *header_only }.to_string()
        }
        Notice::MissingRows(missing) => missing_rows(missing),
        Notice::Doubled { channel, path, used } => format!(
            "{}: {} is in {} already, and that one is used",
            path.display(),
            channel.column(),
            used.display()
        ),
        Notice::OwnDoubled { column, path, used } => {
            format!("{}: {column} is in {} already, and that one is used", path.display(), used.display())
        }
        Notice::RunsInNotStated => Plow::RUNS_IN_NOT_STATED.to_owned(),
        Notice::CannotUse { channel } => {
            let why = plow.cannot_use(*channel).map(|why| format!(": {why}"));
            format!("{} is left out{}", channel.in_words(), why.unwrap_or_default())
        }
        Notice::NoReceiver { path } => format!(
            "{}: nothing came from the GNSS receiver in this run; was it switched on, and is this its port?",
            path.display()
        ),
        Notice::NeverAFix { path } => format!("{}: the receiver never had a fix in this run", path.display()),
        Notice::BoxApart { file, name, channels } => format!(
            "{file}.csv: {} of box {name} left out: the boxes' clocks run apart, so that it is not to be joined with \
             the others",
            channels.iter().map(|channel| channel.column()).collect::<Vec<_>>().join(", ")
        ),
        Notice::OwnApart { file, name, columns } => format!(
            "{file}.csv: {} of box {name} left out: its clock runs apart from that of the channels, by which the working \
             part is known",
            columns.join(", ")
        ),
        Notice::ReceiverApart => {
            "gnss.csv left out: the box's clock runs apart from the computer's, so that speed \
                                  and places are not to be joined with its rows"
                .to_owned()
        }
        Notice::Happened { event, times } => match times {
            1 => format!("{} once during the recording", event.in_words()),
            times => format!("{} {times} times during the recording", event.in_words()),
        },
        Notice::Gaps { gaps, missing_share } => {
            format!("{gaps} gap{} in the readings: {:.2} % missing", plural(*gaps), 100.0 * missing_share)
        }
        Notice::ChannelMissing { channel, missing_s } => {
            format!("{} is missing for {missing_s:.1} s of the working part", channel.in_words())
        }
        Notice::Stuck { channel, still_s } => {
            format!("{} did not move for {still_s:.1} s: check its sensor and cable", channel.in_words())
        }
        Notice::AtEndOfRange { channel, share } => format!(
            "{} was at the end of its range for {:.2} % of the time",
            channel.in_words(),
            100.0 * share
        ),
        Notice::Spikes { channel, spikes } => format!(
            "{} has {spikes} spike{} in the working part, taken out: look for a loose plug",
            channel.in_words(),
            plural(*spikes)
        ),
        Notice::PassesLeftOut { passes_s } => passes_left_out(passes_s),
        Notice::PullFromLinks => {
            "the pull is worked out from the lower links and top link channels, by the slopes \
                                  of the links as they were measured"
                .to_owned()
        }
        Notice::BelowLoadTable { starts_m, share } => format!(
            "the tail wheel's sensor read below the {} that its load table starts at for {:.0} % of the time: \
             check its sign and its zero, the loads there are told as none",
            units.height(*starts_m),
            100.0 * share
        ),
        Notice::BeyondLoadTable { ends_m, share } => format!(
            "the tail wheel's spring gave more than the {} that its load table ends at for {:.0} % of the time: \
             measure the table further, the loads there are extended along its last line",
            units.height(*ends_m),
            100.0 * share
        ),
        Notice::SpeedMissing { from, missing_s } => format!(
            "speed missing for {missing_s:.1} s of the working part: {} gave none there, and the distance is that of \
             the rest",
            speed_source(*from)
        ),
        Notice::WaysApart { from, by_speed_m, by_places_m } => format!(
            "{} makes it {} along the pass and the GNSS places {}: if the furrow was straight, correct the speed's \
             calibration or look at the receiver",
            speed_source(*from),
            units.way(*by_speed_m),
            units.way(*by_places_m)
        ),
    }
}

/// That there are more than are told.
pub(in crate::report) fn further(more: usize) -> String {
    let (notices, them) =
        (super::counted(more, "more notice", "more notices"), if more == 1 { "it" } else { "them" });
    format!("{notices}; the page to print tells {them}")
}

/// Where a speed comes from.
pub fn speed_source(from: SpeedFrom) -> &'static str {
    match from {
        SpeedFrom::Channel => "the speed channel",
        SpeedFrom::Gnss => "the GNSS receiver",
    }
}

fn missing_rows(MissingRows { file, counted, there, holes_s }: &MissingRows) -> String {
    let missing = counted.saturating_sub(*there);
    let places = match holes_s.as_slice() {
        [] => String::new(),
        [(from, to)] => format!(", between {from:.2} and {to:.2} s"),
        [(from, to), .., (last_from, last_to)] => format!(
            ", in {} places: between {from:.2} and {to:.2} s, …, {last_from:.2} and {last_to:.2} s",
            holes_s.len()
        ),
    };
    format!(
        "{file}: {missing} of {counted} recorded rows are missing{places} (run.toml counts more than the file holds): \
         they were there when the run ended, so the file was changed since; `hitchwright check --rebuild-into` makes it \
         again from the raw bytes"
    )
}

fn passes_left_out(passes_s: &[(f64, f64)]) -> String {
    let time = |(from_s, to_s): &(f64, f64)| format!("{from_s:.0} to {to_s:.0} s");
    let times = match passes_s {
        [] => String::new(),
        [one] => time(one),
        [first, .., last] => format!("{}, …, {}", time(first), time(last)),
    };
    let count = passes_s.len();
    format!(
        "the plow was in the ground {count} more time{} ({times}) and only the longest pass is analyzed: \
         `hitchwright passes` makes one run of each",
        plural(count)
    )
}

/// "s" behind a noun, for more than one.
fn plural(count: usize) -> &'static str {
    if count == 1 { "" } else { "s" }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::invented_plow::plow;
    use ingest::plow::ChannelRole;

    #[test]
    fn notices_say_what_and_what_to_do() {
        let said = |one: Notice| notice(&one, &plow(), Units::Si);
        assert_eq!(
            said(Notice::Spikes { channel: ChannelRole::Pull, spikes: 1 }),
            "the pull channel has 1 spike in the working part, taken out: look for a loose plug"
        );
        let still = Notice::Stuck { channel: ChannelRole::Pull, still_s: 3.0 };
        assert!(said(still).contains("did not move"));
        let (file, name) = ("front".to_owned(), "front".to_owned());
        let apart = Notice::BoxApart { file, name, channels: vec![ChannelRole::FrontLoad] };
        assert!(said(apart).contains("front_load_n of box front left out"));
        assert!(said(Notice::ReceiverApart).contains("gnss.csv left out"));
        let file = "plow.csv".to_owned();
        let rows = MissingRows { file, counted: 3501, there: 3401, holes_s: vec![(0.0, 2.0)] };
        assert!(
            said(Notice::MissingRows(rows)).contains("100 of 3501 recorded rows are missing, between 0.00")
        );
        let passes_s = vec![(3.0, 30.0)];
        assert!(said(Notice::PassesLeftOut { passes_s }).contains("1 more time (3 to 30 s)"));
    }
}
