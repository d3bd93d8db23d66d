//! Setting A against setting B: is the difference more than the field's own variation?

mod conclusion;
mod figure;
mod figures;
mod layout;
mod outcome;
mod test;
mod tests_of_figures;
mod warning;

pub use conclusion::{Conclusion, ConclusionClass};
pub use figure::FigureComparison;
pub use figures::{Balance, Better, ComparedFigure, Conditions, PassFigures};
pub use layout::{Layout, RUNS_MIN, layout_of};
pub use outcome::{Answer, ClassCount, Outcome, ShownFigure, Side};
pub use test::{Comparison, compare};
pub use warning::{ComparisonWarning, Condition};
