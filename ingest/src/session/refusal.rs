//! Why a box cannot be recorded.

use firmware_protocol::{Hello, HelloError, VERSION_MAJOR};

/// Why a box cannot be recorded with this plow.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[allow(missing_docs, reason = "the sentences say what they are, the names of fields their unit")]
pub enum BoxRefusal {
    #[error(
        "box \"{name}\" speaks protocol {theirs}, this recorder speaks {ours}: update the older of the two"
    )]
    OtherMajor { name: String, theirs: u8, ours: u8 },
    #[error(
        "box \"{name}\" has no channel {missing}; it has {has}: correct [[sensors]] in the plow \
         description or connect the right box"
    )]
    MissingChannels { name: String, missing: String, has: String },
    /// Of a box that takes the place of another one in a run.
    #[error(
        "box \"{name}\" has {now} of what the plow description asks for, where the run has {before}: connect the box of \
         before, or begin another run"
    )]
    OtherChannels { name: String, now: String, before: String },
    #[error(
        "box \"{name}\" has nothing that the plow description asks for; it has {has}, and [[sensors]] names \
         {wanted}: add its channel there (`hitchwright calibrate` writes such an entry), or leave this port out"
    )]
    NothingWanted { name: String, wanted: String, has: String },
    #[error(
        "channel \"{channel}\" of box \"{name}\" measures {kind}, but the plow description says {role}: \
         correct one of the two"
    )]
    KindDiffers { name: String, channel: String, kind: &'static str, role: &'static str },
    #[error("the box's hello makes no sense ({0}): its program must be corrected")]
    Nonsense(HelloError),
}

/// Whether the box speaks this version of the protocol.
pub fn check_version(hello: &Hello) -> Result<(), BoxRefusal> {
    if hello.version.0 == VERSION_MAJOR {
        return Ok(());
    }
    let name = hello.name.as_str().to_owned();
    Err(BoxRefusal::OtherMajor { name, theirs: hello.version.0, ours: VERSION_MAJOR })
}
