//! The page for a calculation from the plow's description alone.

use super::statics_content::StaticsContent;
use super::{Charts, Content, PageError};

impl Content for StaticsContent {
    const TEMPLATE: &'static str = include_str!("templates/statics.typ");

    fn ident(&self) -> String {
        format!("statics {} {:?}", self.head.title, &*self.foot.provenance)
    }

    fn draw(&self, charts: &mut Charts) -> Result<(), PageError> {
        charts.gauge(self.gauge.as_ref(), "Expected balance index")?;
        charts.forces(self.forces.as_ref(), "Side view of the plow with its forces to scale")
    }
}
