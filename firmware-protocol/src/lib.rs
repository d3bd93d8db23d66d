//! wire
#![no_std]
