//! What the page of the top view shows: plow and tractor from above, which way the pull turns the tractor, and what
//! to do about it.

use super::content::{Foot, Head};
use super::wall_content::TopPanel;

/// The page of the view from above.
#[derive(Clone, Debug)]
pub struct TopContent {
    /// What every page has.
    pub head: Head,
    /// The drawing.
    pub panel: TopPanel,
    /// Which way, and what to do, with the caution that goes with it.
    pub advice: Vec<String>,
    /// What the trade knows, and what the figures rest on.
    pub reasons: Vec<String>,
    /// Figures in sections: a title, which may be empty, and rows of name and figure.
    pub sections: Vec<(String, Vec<(String, String)>)>,
    /// Where the figures come from, and the safety sentences.
    pub foot: Foot,
}
