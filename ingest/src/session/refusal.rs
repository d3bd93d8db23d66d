//! Why a box cannot be recorded.

use firmware_protocol::{Hello, HelloError, VERSION_MAJOR};

/// Why a box cannot be recorded with this plow.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum BoxRefusal {
    /// The box speaks another major version of the protocol.
    #[error(
        "box \"{name}\" speaks protocol {theirs}, this recorder speaks {ours}: update the older of the two"
    )]
    OtherMajor {
        /// Name of the box.
        name: String,
        /// Its major version.
        theirs: u8,
        /// Ours.
        ours: u8,
    },
    /// Channels that the plow's sensors need are not there.
    #[error(
        "box \"{name}\" has no channel {missing}; it has {has}: correct [[sensors]] in the plow \
         description or connect the right box"
    )]
    MissingChannels {
        /// Name of the box.
        name: String,
        /// Channels wanted and not there.
        missing: String,
        /// Channels there.
        has: String,
    },
    /// None of its channels is one that the plow's sensors need.
    #[error(
        "box \"{name}\" has nothing that the plow description asks for; it has {has}, and [[sensors]] names \
         {wanted}: add its channel there (`hitchwright calibrate` writes such an entry), or leave this port out"
    )]
    NothingWanted {
        /// Name of the box.
        name: String,
        /// Channels that the plow's sensors need.
        wanted: String,
        /// Channels there.
        has: String,
    },
    /// A channel measures something else than the plow description says.
    #[error(
        "channel \"{channel}\" of box \"{name}\" measures {kind}, but the plow description says {role}: \
         correct one of the two"
    )]
    KindDiffers {
        /// Name of the box.
        name: String,
        /// The channel.
        channel: String,
        /// What the box says.
        kind: &'static str,
        /// What the plow description says.
        role: &'static str,
    },
    /// The box's hello makes no sense.
    #[error("the box's hello makes no sense ({0}): its program must be corrected")]
    Nonsense(HelloError),
}

/// Whether the box speaks this version of the protocol.
///
/// # Errors
/// [`BoxRefusal::OtherMajor`] if it does not.
pub fn check_version(hello: &Hello) -> Result<(), BoxRefusal> {
    if hello.version.0 == VERSION_MAJOR {
        return Ok(());
    }
    let name = hello.name.as_str().to_owned();
    Err(BoxRefusal::OtherMajor { name, theirs: hello.version.0, ours: VERSION_MAJOR })
}
