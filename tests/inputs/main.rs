//! Whatever a file or a port may hold, sound or not.

mod bad_input;
mod full_disk;
mod fuzz_corpus;
mod import_units;
mod logger_files;
mod look;
mod mutated_inputs;
mod own_columns;
mod written;
mod wrong_readings;
