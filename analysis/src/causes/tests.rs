//! The tests for faults of the tail wheel on series in which the fault was put, and on series without one; and the
//! rules that make causes of them.

mod rules;
mod series;
