//! What is known of a recording at this moment: fed by the recorder's loop ([`LiveView`]), read by all who show it
//! ([`Live`]).
//!
//! The recorder's loop is never held up: what is shared is locked for as long as a few numbers take to copy, nobody
//! who holds the lock waits for anything else, and nothing grows with the number of those who look on.

mod answers;
mod boxes;
mod carried;
mod live_view;
mod notices;
mod readings;
mod shared;
mod snapshot;
mod status_file;
mod strip;
mod troubles;

pub use live_view::{LiveView, Views};
pub use shared::{Answer, Asked, Live, sentence};
pub use snapshot::{
    BoxNow, CannotNow, Choice, LastPass, LoadNow, NoticeLine, Now, PassState, Phase, ProgramNow, RunNow,
    Snapshot, Trouble, TroubleKind,
};
pub use status_file::{StatusKeeper, keep_status};
pub use strip::StripPoint;
