//! box
