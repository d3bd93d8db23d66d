//! Helpers of the whole-program tests.
