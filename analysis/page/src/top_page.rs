//! The page of the view from above.

use super::charts::wall;
use super::top_content::TopContent;
use super::{Charts, Content, PageError};

impl Content for TopContent {
    const TEMPLATE: &'static str = include_str!("templates/top.typ");

    fn ident(&self) -> String {
        format!("top {} {:?}", self.head.title, &*self.foot.provenance)
    }

    fn draw(&self, charts: &mut Charts) -> Result<(), PageError> {
        let size = charts.size(1.0, 92.0);
        let alt = "Plow and tractor from above with their forces to scale";
        charts.put("top", size, alt, wall::from_above(&self.panel, size)?);
        Ok(())
    }
}
