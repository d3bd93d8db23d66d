//! The analysis against virtual plows, whose truth is known.

mod alignment;
mod balance;
mod bobbing;
mod calibration;
mod causes;
mod draft;
mod drawn_plows;
mod figures;
mod half_car;
mod stored_runs;
mod torn_runs;
mod two_bottom_plow;
mod wrong_entries;
