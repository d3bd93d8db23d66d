//! virtual box
fn main() {}
