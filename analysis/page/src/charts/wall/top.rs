//! The top view of the wall diagram: travel is to the right as in the side view, the land above.

use super::pieces::{self, FORCE, NAME, WallLine};
use crate::Result;
use crate::charts::canvas::{Canvas, GREY, INK, LABEL, Lettering, Mm, Pen, SENTENCE, Stand};
use crate::charts::region::Region;
use crate::charts::supports;
use crate::force_diagram::ScaleBar;
use crate::wall_content::{PlanArrow, PlanM, TopPanel};

/// The longest force takes this share of the region's shorter side.
const LONGEST_FORCE: f64 = 0.4;
/// For the name of the view above it, and for the scales below it, mm.
const NAME_MM: f64 = 7.0;
const BELOW_MM: f64 = 8.5;
/// A line of the sentences below it, mm; and their letters.
const LINE_MM: f64 = 4.1;
const SAYS: Lettering = Lettering { size_pt: 9.5, bold: true, ..SENTENCE };
/// Pen of plow and tractor from above.
pub const OUTLINE: Pen = Pen(GREY, 2.2);

struct Top {
    mm_per_m: f64,
    mm_per_n: f64,
    origin: Mm,
}

impl Top {
    fn of(panel: &TopPanel, region: Region) -> Option<Self> {
        let ends = [panel.pull_line.0, panel.pull_line.1];
        let acts = panel.arrows.iter().map(|arrow| arrow.at);
        let points: Vec<PlanM> = panel.outlines.iter().flatten().copied().chain(ends).chain(acts).collect();
        let largest_n = panel.arrows.iter().map(|a| a.x_n.hypot(a.y_n)).fold(0.0, f64::max);
        let finite = points.iter().all(|p| p.x_m.is_finite() && p.y_m.is_finite());
        if !(finite && (1e-6..1e12).contains(&largest_n)) {
            return None;
        }
        let mm_per_n = region.width().min(region.height()) * LONGEST_FORCE / largest_n;
        let room = region.within((6.0, 2.0 * NAME_MM));
        let (mm_per_m, origin) = room.fit(60.0, 2.0, |mm_per_m| {
            let view = Self { mm_per_m, mm_per_n, origin: (0.0, 0.0) };
            let tips: Vec<Mm> = panel.arrows.iter().map(|arrow| view.tip(arrow)).collect();
            points.iter().map(move |p| view.at(*p)).chain(tips)
        });
        Some(Self { mm_per_m, mm_per_n, origin })
    }

    fn at(&self, p: PlanM) -> Mm {
        (self.origin.0 + p.x_m * self.mm_per_m, self.origin.1 - p.y_m * self.mm_per_m)
    }

    fn tip(&self, arrow: &PlanArrow) -> Mm {
        let at = self.at(arrow.at);
        (at.0 + arrow.x_n * self.mm_per_n, at.1 - arrow.y_n * self.mm_per_n)
    }
}

pub fn draw(canvas: &Canvas, panel: &TopPanel, region: Region) -> Result {
    let (left, right) = (region.corner.0, region.far.0);
    let name = "from above, travel to the right, the land above";
    canvas.text(name, (left, region.corner.1 + 2.0), LABEL.sized(11.0).bold().standing(Stand::Right))?;
    let says: Vec<String> = panel
        .sentences
        .iter()
        .flat_map(|sentence| pieces::wrapped(sentence, SAYS, region.width(), ("", "")))
        .collect();
    let below = region.far.1 - BELOW_MM - LINE_MM * says.len() as f64;
    let view = Region { corner: (left, region.corner.1 + NAME_MM), far: (right, below) };
    let Some(top) = Top::of(panel, view) else {
        return canvas.text("top view: not shown", (left, below), NAME.standing(Stand::Right));
    };
    let mut taken = view.labels(canvas);
    let edge_y = |y_m: f64| top.at(PlanM { x_m: 0.0, y_m }).1;
    for (y_m, _) in &panel.edges {
        let y = edge_y(*y_m);
        pieces::line(canvas, &[(view.corner.0, y), (view.far.0, y)], WallLine::Ground)?;
        taken.take((view.corner.0, y - 0.5), (view.far.0, y + 0.5));
    }
    for outline in &panel.outlines {
        let path: Vec<Mm> = outline.iter().map(|p| top.at(*p)).collect();
        canvas.line(&path, OUTLINE)?;
        path.windows(2).for_each(|ends| taken.take_line(ends[0], ends[1]));
    }
    let pull = [top.at(panel.pull_line.0), top.at(panel.pull_line.1)];
    pieces::line(canvas, &pull, WallLine::PullNow)?;
    taken.take_line(pull[0], pull[1]);
    for arrow in &panel.arrows {
        let (from, to) = (top.at(arrow.at), top.tip(arrow));
        pieces::force(canvas, from, to)?;
        taken.take_line(from, to);
    }
    for (at, _) in &panel.points {
        supports::pin(canvas, top.at(*at), pieces::PIN)?;
        taken.take_about(top.at(*at), pieces::PIN_CLEAR_MM);
    }
    let arrows = panel.arrows.iter().map(|arrow| (arrow.label.as_str(), top.tip(arrow), FORCE.sized(10.5)));
    let points = panel.points.iter().map(|(at, text)| (text.as_str(), top.at(*at), NAME));
    let edges =
        panel.edges.iter().map(|(y_m, text)| (text.as_str(), (view.far.0 - 12.0, edge_y(*y_m)), NAME));
    let all: Vec<pieces::Named> = arrows.chain(points).chain(edges).collect();
    pieces::names(canvas, &mut taken, &all)?;
    below_the_view(canvas, panel, &top, (left, below), region.width())?;
    for (i, line) in says.iter().enumerate() {
        let at = (left, below + BELOW_MM + LINE_MM * i as f64);
        canvas.text(line, at, SAYS.within(line, region.width()))?;
    }
    Ok(())
}

fn below_the_view(canvas: &Canvas, panel: &TopPanel, top: &Top, (left, y): Mm, width: f64) -> Result {
    let words = LABEL.sized(10.0).bold().standing(Stand::Right);
    let length = panel.force_scale.size * top.mm_per_n;
    pieces::force(canvas, (left, y + 4.0), (left + length, y + 4.0))?;
    canvas.text(&format!("force {}", panel.force_scale.label), (left + length + 2.0, y + 4.0), words)?;
    length_bar(canvas, &panel.length_scale, top.mm_per_m, (left + width * 0.55, y + 4.0))
}

/// The scale of lengths.
pub fn length_bar(canvas: &Canvas, bar: &ScaleBar, mm_per_m: f64, (left, y): Mm) -> Result {
    let right = left + bar.size * mm_per_m;
    canvas.bar((left, y), right, 1.4, Pen(INK, 1.4))?;
    let words = LABEL.sized(11.0).bold().standing(Stand::Right);
    canvas.text(&format!("length {}", bar.label), (right + 2.0, y), words)
}
