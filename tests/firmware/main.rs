//! The firmware, in an emulator and what of it small processors run.

mod emulated;
mod small_processors;
