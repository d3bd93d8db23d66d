//! The columns of a table of rows.

use crate::channel_role::ChannelRole;
use crate::own_column::OwnColumn;

/// The columns after `t_s`: those that are known, and behind them the user's own. Readings of a row stand in this order,
/// so that whoever asks for what is known takes the roles and the beginning of the row.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct RowColumns {
    /// What is known.
    pub roles: Vec<ChannelRole>,
    /// The user's own.
    pub own: Vec<OwnColumn>,
}

impl RowColumns {
    /// The columns of a header, of which the user's own are among `own`; what is neither is left out.
    #[must_use]
    pub fn of_header(header: &str, own: &[OwnColumn]) -> Self {
        let named = |name: &str| own.iter().find(|own| own.column() == name).cloned();
        Self {
            roles: header.split(',').filter_map(ChannelRole::of_column).collect(),
            own: header.split(',').filter_map(named).collect(),
        }
    }

    /// Their names.
    pub fn names(&self) -> impl Iterator<Item = &str> {
        self.roles.iter().map(|role| role.column()).chain(self.own.iter().map(OwnColumn::column))
    }

    /// How many there are.
    #[must_use]
    pub fn count(&self) -> usize {
        self.roles.len() + self.own.len()
    }
}

impl<R: Into<Vec<ChannelRole>>> From<R> for RowColumns {
    fn from(roles: R) -> Self {
        Self { roles: roles.into(), own: Vec::new() }
    }
}
