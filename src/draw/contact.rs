//! Posture at contact against the line of the front toe.

use std::io;

use crate::measure::clip::{ClipMeasures, MeasuredStroke};
use crate::measure::{Measure, Measurement, Missing};
use crate::pose::Motion;

use super::axis::Frame;
use super::canvas::Canvas;
use super::figure::{Figure, FigureStyle, Plane, bounds};
use super::page::{self, Grid, Head};
use super::strip::grade_mark;
use super::style::{self, MARGIN, Pen};
use super::{svg, words};

const TITLE: &str = "Hand against the front toe at contact";
const MEASURE: &str = "hand_ahead_of_front_toe_cm";
const HEADING_HEIGHT: f64 = 66.0;
const TALLEST: f64 = 520.0;

/// Room left and right of the figures, metres, and for the dimension's label ahead of hand and toe, pixels.
const ROOM: f64 = 0.06;
const LABEL_ROOM: f64 = 192.0;

/// Views that show less than this of a movement toward the net can't show the hand against the toe.
const LEAST_IN_PICTURE: f64 = 0.6;
/// Under this the offset's error from depth is worth a word.
const WELL_IN_PICTURE: f64 = 0.89;

/// One stroke's posture from the side, metres from the toe line; heights over the ground.
struct Posture<'a> {
    stroke: &'a MeasuredStroke,
    figure: Figure,
    hand: (f64, f64),
    value: Result<Measurement, Missing>,
    measure: &'static Measure,
}

/// Draws the chart.
pub fn draw(picture: &Motion, clip: &ClipMeasures) -> io::Result<String> {
    let in_picture = clip.strokes.first().map_or(0.0, |s| s.stroke.motion.net_in_picture());
    if in_picture < LEAST_IN_PICTURE {
        let view = clip.direction.map_or("another", |d| d.view.name());
        return page::notice(
            TITLE,
            &format!(
                "This can't be shown from this clip. The camera looks from the {view}, so how far the hand is ahead of \
                 the toe runs along the line of sight, where one camera only guesses. Film from the side, with the \
                 stroke running across the picture."
            )
            .replace("from the diagonal", "at a slant"),
        );
    }
    let postures: Vec<Posture> = clip.strokes.iter().filter_map(|s| Posture::new(picture, s)).collect();
    let hidden: Vec<usize> = clip
        .strokes
        .iter()
        .map(|s| s.number)
        .filter(|i| postures.iter().all(|p| p.stroke.number != *i))
        .collect();
    let Some((x, y)) = bounds(postures.iter().flat_map(Posture::extent)) else {
        return page::notice(
            TITLE,
            "This can't be shown from this clip: hand and toes were not in sight at contact.",
        );
    };
    let shown = postures.len().min(style::MOST_POSTURES);
    let head = Head::new(TITLE, &notes(in_picture, &postures, &hidden));

    let (x, y) = ((x.0 - ROOM, x.1 + ROOM), (y.0.min(0.0) - 0.05, y.1 + 0.05));
    let reach = postures.iter().map(|p| p.hand.0).fold(0.0, f64::max);
    let width = Grid::width_for(shown);
    let scale = (TALLEST / (y.1 - y.0)).min(width / (x.1 - x.0)).min((width - LABEL_ROOM) / (reach - x.0));
    let height = scale * (y.1 - y.0);
    let right = x.1.max(reach + LABEL_ROOM / scale);
    let spare = 0.5 * (width / scale - (right - x.0));
    let grid = Grid::new(shown, HEADING_HEIGHT + height, head.bottom() + 6.0);
    let whole = grid.bottom(shown) + MARGIN;
    svg::document(TITLE, &description(&postures[..shown]), whole, |canvas| {
        head.draw(canvas);
        for (i, posture) in postures.iter().take(shown).enumerate() {
            let (left, top) = grid.corner(i);
            let frame =
                Frame { left, top: top + HEADING_HEIGHT, width, height, x: (x.0 - spare, right + spare), y };
            posture.draw(canvas, &frame);
        }
    })
}

fn notes(in_picture: f64, postures: &[Posture], hidden: &[usize]) -> Vec<String> {
    let mut notes = vec![
        "Seen from the side, with the net on the right. The upright line stands at the tip of the toe nearest the net; \
         the hand is the wrist of the hitting arm."
            .to_owned(),
    ];
    if in_picture < WELL_IN_PICTURE {
        notes.push("The camera stood at a slant to the stroke, which widens the ±.".to_owned());
    }
    if postures.iter().any(|p| p.figure.has_guesses()) {
        notes.push("Dashed limbs were hidden or blurred; the pose model guessed them.".to_owned());
    }
    if postures.len() > style::MOST_POSTURES {
        let rest = postures.len() - style::MOST_POSTURES;
        notes
            .push(format!("The first {} strokes are shown; {rest} more are left out.", style::MOST_POSTURES));
    }
    if !hidden.is_empty() {
        notes.push(format!("Not shown, because hand or toes were not in sight: {}.", words::listed(hidden)));
    }
    notes
}

impl<'a> Posture<'a> {
    /// The posture; `None` where hand or toe line can't be placed.
    fn new(picture: &Motion, stroke: &'a MeasuredStroke) -> Option<Self> {
        let motion = &stroke.stroke.motion;
        let met = stroke.stroke.phases.contact.time;
        let (measure, value) = words::outcome(stroke, MEASURE)?;
        let hand = Plane::Side.of(motion.hand_at(met)?, motion.hand);
        // The toe line lies where the catalogue's own formula puts it, even where its value is too uncertain to give.
        let ahead = measure.of(&stroke.stroke).ok()? / 100.0;
        let toe = (hand.0 - ahead, 0.0);
        let figure = Figure::new(picture, motion, met, Plane::Side).moved(toe);
        (!figure.is_empty()).then_some(Self { stroke, figure, hand: (ahead, hand.1), value, measure })
    }

    fn extent(&self) -> impl Iterator<Item = (f64, f64)> + '_ {
        self.figure.extent().chain([self.hand, (0.0, 0.0)])
    }

    /// The value in words.
    fn words(&self) -> String {
        match self.value {
            Ok(m) => {
                let far = words::amount(self.measure, &Measurement { value: m.value.abs(), ..m });
                format!("{far} {}", if m.value < 0.0 { "behind" } else { "ahead" })
            }
            Err(missing) => format!("no value: {}", missing.name()),
        }
    }

    fn draw(&self, canvas: &mut Canvas, frame: &Frame) {
        const TOE_LINE: Pen = Pen::new(style::RUST, 2.6).dashed(10.0, 5.0);
        const DIMENSION: Pen = Pen::new(style::RUST, 3.2);
        let y = frame.top - HEADING_HEIGHT;
        canvas.text((frame.left, y + 16.0), &words::heading(self.stroke), &style::HEADING);
        match self.value {
            Ok(m) => {
                grade_mark(canvas, (frame.left + 9.0, y + 44.0), m.grade);
                let words = format!("{}, {} grade", self.words(), m.grade.name());
                canvas.text((frame.left + 26.0, y + 44.0), &words, &style::LABEL);
            }
            Err(_) => canvas.text((frame.left, y + 44.0), &self.words(), &style::NOTE),
        }

        frame.level(canvas, 0.0, &Pen::new(style::GREY, 2.0));
        frame.upright(canvas, 0.0, &TOE_LINE);
        self.figure.draw(canvas, FigureStyle::Subject, |(x, y)| frame.at(x, y));
        let hand = frame.at(self.hand.0, self.hand.1);
        if let Ok(m) = self.value {
            let toe = frame.across(0.0);
            canvas.line((toe, hand.1), hand, &DIMENSION);
            for x in [toe, hand.0] {
                canvas.line((x, hand.1 - 15.0), (x, hand.1 + 15.0), &DIMENSION);
            }
            let label = words::amount(self.measure, &m);
            canvas.patched_text(
                (toe.max(hand.0) + 16.0, hand.1),
                &label,
                &style::LABEL.bold().coloured(style::RUST),
            );
        }
        canvas.ring(hand, 5.5, &Pen::new(style::BLUE, 3.4));
    }
}

fn description(postures: &[Posture]) -> String {
    let all: Vec<String> =
        postures.iter().map(|p| format!("{}: {}.", words::heading(p.stroke), p.words())).collect();
    format!(
        "Stick figures at contact from the side, net on the right, with an upright line at the tip of the front toe and \
         the distance of the hitting hand to it. {}",
        all.join(" ")
    )
}
