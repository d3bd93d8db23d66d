//! The firmware, in an emulator and in parts.

mod emulated;
mod parts;
