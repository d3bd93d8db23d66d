//! Setting A against setting B: is the difference more than the field's own variation?

mod conclusion;
mod figures;
mod layout;
mod outcome;
mod test;

pub use conclusion::{Conclusion, ConclusionClass};
pub use figures::{Balance, Better, ComparedFigure, Conditions, PassFigures};
pub use layout::{Layout, layout_of};
pub use outcome::{Answer, ClassCount, Outcome, ShownFigure, Side};
pub use test::{Comparison, FigureComparison, compare};
