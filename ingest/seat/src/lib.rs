//! The recorder at work: what is shown of it at the seat, and what it does where nobody sits beside it.

pub mod at_seat;
pub mod balance;
pub mod characters;
pub mod cli;
pub mod live;
pub mod live_balance;
pub mod page;
pub mod panel;
pub mod reader_units;
pub mod runs;
pub mod server;
pub mod service;
mod system;
