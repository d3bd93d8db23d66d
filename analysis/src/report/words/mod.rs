//! All sentences that a reader gets of a run or a comparison, by what they are of: data in, words out.

mod bobbing;
mod calibration;
pub(in crate::report) mod causes;
pub(in crate::report) mod comparison;
mod draft;
mod evidence;
pub(crate) mod notices;

pub(in crate::report) use bobbing::bobbing_notes;
pub(in crate::report) use draft::draft_remarks;
