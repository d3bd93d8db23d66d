//! What is known from all readings of a document: what is wrong, and where something stands in for a value.

use super::stand_in::{StandIn, StandIns};
use super::wanted;
use std::cell::RefCell;
use std::collections::BTreeSet;

/// What is wrong with what stands at a place of a document.
#[derive(Clone, Debug)]
pub(super) struct Found {
    /// Dotted key.
    pub place: String,
    /// Where it stands in the text; for a missing key, its table.
    pub at: usize,
    pub message: String,
    pub is_missing: bool,
}

/// What is known from all readings.
pub(super) struct Pass<'a> {
    pub text: &'a str,
    pub found: RefCell<Vec<Found>>,
    /// Keys that stand there in another spelling, which are not missing as well.
    pub typos: RefCell<BTreeSet<String>>,
    pub stand_ins: StandIns,
}

impl Pass<'_> {
    pub fn stands_in(&self, place: &str) -> Option<StandIn<'_>> {
        let all = &self.stand_ins;
        all.borrow().contains_key(place).then(|| StandIn { place: place.to_owned(), all })
    }

    /// Whether something stands in for a part of what is there.
    pub fn has_stand_in_within(&self, place: &str) -> bool {
        let all = self.stand_ins.borrow();
        let is_part = |one: &String| {
            one.strip_prefix(place).is_some_and(|rest| rest.starts_with(['.', '[']) || place.is_empty())
        };
        all.keys().any(|one| one != place && is_part(one))
    }

    /// Tells of a key that is none, once; the one that may be meant.
    pub fn unknown(
        &self,
        table: &str,
        (key, at): (&str, usize),
        known: &[&'static str],
    ) -> Option<&'static str> {
        let near = wanted::nearest(key, known);
        let place = within(table, key);
        if let Some(near) = near {
            self.typos.borrow_mut().insert(within(table, near));
        }
        let mut found = self.found.borrow_mut();
        if !found.iter().any(|one| one.at == at) {
            let cure = match near {
                Some(near) => format!("did you mean `{near}`?"),
                None => format!("here may stand {}", known.join(", ")),
            };
            found.push(Found {
                place,
                at,
                message: format!("there is no such key; {cure}"),
                is_missing: false,
            });
        }
        near
    }
}

/// The key of a part of a table.
pub(super) fn within(table: &str, key: &str) -> String {
    if table.is_empty() { key.to_owned() } else { format!("{table}.{key}") }
}
