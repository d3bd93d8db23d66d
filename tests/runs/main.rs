//! The runs that the seat's server hands out: real run folders, the real `hitchwright` as the child, over HTTP.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a helper of tests fails as a test does")]

mod after_pass;
mod children;
mod comparisons;
mod files;
mod served;
mod whole_way;
