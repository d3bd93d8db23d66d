//! What a virtual box says of itself.

use firmware_protocol::{Channel, Frame, Hello, Label, VERSION_MINOR, sentences};

use super::{BoxConfig, BoxError};

/// The *hello* of a box in its boot number `boot` that samples at `rate_mhz`.
pub(super) fn greeting(
    config: &BoxConfig,
    channels: &[Channel],
    boot: u32,
    rate_mhz: u32,
) -> Result<Hello, BoxError> {
    let table: Vec<Channel> = channels.iter().map(|c| Channel { rate_mhz, ..*c }).collect();
    let unfit = |error: firmware_protocol::LabelError| BoxError::Frame(error.to_string());
    let serial = Label::new(&config.serial).map_err(unfit)?;
    let name = Label::new(&config.name).map_err(unfit)?;
    let mut hello = Hello::new(boot, (0, 1, 0), rate_mhz, serial, name, &table)
        .ok_or_else(|| BoxError::Frame("a box has 1 to 8 channels".to_owned()))?;
    hello.version = (config.faults.protocol_major, VERSION_MINOR);
    if config.text && sentences(&Frame::Hello(hello)).next().is_none() {
        let what = "a sentence holds none of $ * , ! \\ ^ ~ in a name or a serial number".to_owned();
        return Err(BoxError::Frame(what));
    }
    Ok(hello)
}

/// The channel table, in the order of the sensors.
pub(super) fn channel_table(config: &BoxConfig) -> Result<Vec<Channel>, BoxError> {
    let channel = |sensor: &crate::sensors::Sensor| {
        let name = Label::new(sensor.channel).map_err(|e| BoxError::Frame(e.to_string()))?;
        Ok(Channel { name, kind: sensor.kind(), adc_bits: sensor.adc_bits, rate_mhz: config.row_rate_mhz })
    };
    config.sensors.iter().map(channel).collect()
}
