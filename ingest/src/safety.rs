//! The cautions: shown before a recording, on the page and in the README, in these words everywhere.

/// One caution a line.
pub const CAUTIONS: [&str; 5] = [
    "Nobody rides on or walks beside a moving plow to read a sensor.",
    "Engine off, plow lowered and blocked before touching hitch, wheels or cables.",
    "Keep hands off a turning tail wheel.",
    "Load cells and pins must be rated for shock load, with a safety chain beside them.",
    "Figures support, and do not replace, the operator's manual, local rules and qualified judgement.",
];

/// Cautions of a calibration, one a line: shown before the first load, in these words everywhere.
pub const CALIBRATION_CAUTIONS: [&str; 4] = [
    "Engine off, plow blocked; nobody stands or reaches under a hung load, or in line with a tight chain.",
    "Cell, pins, hooks and chain must be rated for more than the highest load, with a safety chain beside them.",
    "Load slowly; keep hands away from the tail wheel's linkage while it is under load.",
    "Figures support, and do not replace, the operator's manual, local rules and qualified judgement.",
];
