//! sample-runs
