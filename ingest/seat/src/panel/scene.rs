//! What the panel draws from.

use super::keys::Hand;
use super::pen::Look;
use crate::live::{Snapshot, StripPoint};

/// What is to be drawn.
#[derive(Debug)]
pub(super) struct Scene<'a> {
    pub now: &'a Snapshot,
    pub strip: &'a [StripPoint],
    pub hand: &'a Hand,
    pub look: Look,
}
