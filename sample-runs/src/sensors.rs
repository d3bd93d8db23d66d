//! sensors
