//! `passes`: one run a pass from a recording of several.

use super::args::PassesArgs;
use super::output::{CommandError, Done};
use super::runs::named_run;
use ingest::cut::{CutPass, cut_passes};
use ingest::passes::rule::too_short;

pub(super) fn passes(args: &PassesArgs) -> Result<Done, CommandError> {
    let run = named_run(&args.run)?;
    let cut = cut_passes(&run, &args.out)?;
    if cut.passes.is_empty() {
        return Err(CommandError::at(
            &run,
            "the plow was never in the ground, by its depth (above 0 in the ground) and pull",
        ));
    }
    let line = |pass: &CutPass| {
        let short =
            pass.too_short_s.map_or_else(String::new, |worked_s| format!("; {}", too_short(worked_s)));
        let (folder, from_s, lasted_s) = (pass.folder.display(), pass.from_s, pass.lasted_s);
        format!("{folder}: {lasted_s:.1} s, from {from_s:.1} s of the recording on{short}\n")
    };
    let report = cut.passes.iter().map(line).collect();
    Ok(Done { report, remarks: cut.notices, ..Done::default() })
}
