//! The page for a comparison of two settings.

use super::charts::{Size, dots};
use super::comparison_content::ComparisonContent;
use super::{Charts, Content, PageError};

impl Content for ComparisonContent {
    const TEMPLATE: &'static str = include_str!("templates/comparison.typ");

    fn ident(&self) -> String {
        format!("comparison {} {:?}", self.head.title, &*self.foot.provenance)
    }

    fn draw(&self, charts: &mut Charts) -> Result<(), PageError> {
        // Dots stay dots: only their height follows the spacing.
        let size = Size { width_mm: 60.0, height_mm: charts.size(0.0, 13.0).height_mm.clamp(8.0, 17.0) };
        for (place, row) in self.rows.iter().enumerate() {
            let (a, b) = (&row.runs_a, &row.runs_b);
            let alt = format!("{}: {} runs of A and {} runs of B", row.name, a.len(), b.len());
            charts.put(&format!("dots{place}"), size, &alt, dots::draw(a, b, size)?);
        }
        Ok(())
    }
}
