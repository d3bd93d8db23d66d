//! Listening to one port, or to several at the same time, for as long as it takes to know.

use super::DiscoveryError;
use super::port_session::PortSession;
use super::sample::Sample;
use crate::session::{NotABox, StartUnasked};
use firmware_protocol::{Form, Hello, Status};
use std::path::{Path, PathBuf};
use std::time::Duration;

/// How to probe a port.
#[derive(Clone, Copy, Debug)]
pub struct ProbeConfig {
    /// Speed in baud.
    pub baud: u32,
    /// A box must have said hello by then.
    pub patience: Duration,
    /// How long its rows are then listened to.
    pub listen: Duration,
}

impl ProbeConfig {
    /// Three seconds for a hello, which boards that reset on opening need two of, and one of rows.
    #[must_use]
    pub fn at(baud: u32) -> Self {
        Self { baud, patience: Duration::from_secs(3), listen: Duration::from_secs(1) }
    }
}

/// A box that was listened to.
#[derive(Clone, Debug, PartialEq)]
pub struct SeenBox {
    /// What it says of itself.
    pub hello: Hello,
    /// Whether it sends frames or prints sentences.
    pub form: Option<Form>,
    /// Its last status, if one came.
    pub status: Option<Status>,
    /// Its rows.
    pub sample: Sample,
}

/// What is on a port.
pub type ProbeResult = Result<Box<SeenBox>, NotABox>;

/// Probes several ports at the same time; what came of each, in their order. A port that the person
/// named (`true`) is told to start if it stays silent.
///
/// # Errors
/// [`DiscoveryError::System`] if the computer gives no timer; what is wrong with one port is in its place.
pub fn probe_all(
    ports: &[(PathBuf, bool)],
    config: ProbeConfig,
) -> Result<Vec<Result<ProbeResult, DiscoveryError>>, DiscoveryError> {
    let runtime = crate::port::runtime().map_err(DiscoveryError::System)?;
    Ok(runtime.block_on(async {
        let probes: Vec<_> = ports
            .iter()
            .cloned()
            .map(|(port, named)| tokio::spawn(async move { probe(&port, named, config).await }))
            .collect();
        let mut seen = Vec::new();
        for probe in probes {
            seen.push(match probe.await {
                Ok(seen) => seen,
                Err(error) => Err(DiscoveryError::System(std::io::Error::other(error))),
            });
        }
        seen
    }))
}

/// Probes one port.
///
/// # Errors
/// [`DiscoveryError::Port`] or [`DiscoveryError::Went`].
pub async fn probe(port: &Path, named: bool, config: ProbeConfig) -> Result<ProbeResult, DiscoveryError> {
    let unasked = if named { StartUnasked::IfHeardOrSilent } else { StartUnasked::IfHeard };
    let mut port = PortSession::open(port, config.baud, unasked)?;
    if let Err(found) = port.until_hello(config.patience).await? {
        return Ok(Err(found));
    }
    port.start().await?;
    let sample = port.sample(config.listen).await?;
    port.stop().await?;
    let handshake = port.handshake();
    let form = handshake.decoder.form();
    // The last hello: another box may have been put there meanwhile.
    Ok(match (&handshake.refusal, handshake.hello) {
        (Some(refusal), _) => Err(NotABox::Refused(refusal.clone())),
        (None, Some(hello)) => Ok(Box::new(SeenBox { hello, form, status: handshake.status, sample })),
        (None, None) => Err(NotABox::NoHello),
    })
}
