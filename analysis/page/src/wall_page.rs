//! The wall diagram as a page, landscape.

use super::charts::{Size, wall};
use super::wall_content::WallContent;
use super::{Charts, Content, PageError};

impl Content for WallContent {
    const TEMPLATE: &'static str = include_str!("templates/wall.typ");

    fn ident(&self) -> String {
        format!("wall {} {}", self.title, self.provenance)
    }

    fn draw(&self, charts: &mut Charts) -> Result<(), PageError> {
        let size = Size::landscape(charts.paper);
        let [weight, pull, soil, front, tail] = self.now.forces();
        let forces = [tail, front, weight, soil, pull].map(|arrow| arrow.label.as_str()).join(", ");
        let alt = format!("Side view of {} with its forces to scale: {forces}.", self.plow);
        charts.put("wall", size, &alt, wall::draw(self, size)?);
        Ok(())
    }
}
