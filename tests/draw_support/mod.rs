//! A player made of simple curves, and a check that a text is well-formed XML.

use toeline::geometry::{Court, Point2};
use toeline::measure::clip::{ClipMeasures, MeasuredStroke};
use toeline::measure::drawn::{Source, Sources};
use toeline::measure::uncertainty::Measured;
use toeline::measure::{CATALOGUE, Grade, Measurement, Missing};
use toeline::pose::landmark::COUNT;
use toeline::pose::{DepthTable, Joint, Landmark, Motion, MotionPoint, Seen, Side};
use toeline::racket::RacketMotion;
use toeline::scene::space::Lift;
use toeline::scene::{BodyPrior, CourtMotion, Direction, Filmed, Lens, Space, Stand, View};
use toeline::stroke::{Contact, Hands, Hitting, Kind, Mark, Method, Phases, Stroke};
use toeline::units::{Degrees, FrameIndex, Metres, Seconds};

const RATE: f64 = 60.0;
const BETWEEN: f64 = 4.0;

/// What is drawn: strokes every four seconds, each like the first with its hand a little farther ahead.
pub struct Setup {
    pub strokes: usize,
    /// Kinds in turn.
    pub kinds: &'static [Kind],
    /// Where the net is.
    pub angle: f64,
    pub grade: Grade,
    /// Strokes without any value.
    pub missing: &'static [usize],
    /// When the hand is not seen, seconds from contact.
    pub gap: Option<(f64, f64)>,
}

impl Default for Setup {
    fn default() -> Self {
        Self { strokes: 3, kinds: &[Kind::Forehand], angle: 0.0, grade: Grade::Good, missing: &[], gap: None }
    }
}

impl Setup {
    fn direction(&self) -> Direction {
        let angle = Degrees(self.angle);
        Direction { angle, spread: Degrees(4.0), view: View::from_angle(angle) }
    }

    fn times(&self) -> Vec<Seconds> {
        let count = (self.strokes as f64 * BETWEEN * RATE) as usize;
        (0..count).map(|i| Seconds(i as f64 / RATE)).collect()
    }

    /// The motion in the picture: every landmark in sight.
    pub fn picture(&self) -> Motion {
        let times = self.times();
        let seen = MotionPoint { at: Point2::new(640.0, 360.0), visibility: 0.9, bridged: false };
        Motion {
            size: (1280, 720),
            rate: RATE,
            indices: (0..times.len()).map(FrameIndex).collect(),
            points: vec![[Some(seen); COUNT]; times.len()].into(),
            world: vec![None; times.len()].into(),
            depth: DepthTable::nothing(times.len()).into(),
            times,
            straightened: Vec::new(),
            jitter: [0.0; COUNT],
            background: Vec::new(),
            cuts: Vec::new(),
            seen: Seen::default(),
        }
    }

    /// The clip's numbers: what the catalogue's formulas give, with a ± of 4.
    pub fn clip(&self) -> ClipMeasures {
        let picture = self.picture();
        let stand = Stand::level(Lens::usual(picture.size));
        let space = Space::lift(&picture, &stand, Metres(1.75), &BodyPrior::default(), Lift::Planar);
        let strokes: Vec<MeasuredStroke> = (0..self.strokes).map(|i| self.stroke(i)).collect();
        let found = !strokes.is_empty();
        ClipMeasures {
            hitting: found.then_some(Hitting { hand: Side::Right, assumed: false }),
            direction: found.then(|| self.direction()),
            filmed: Filmed::at(stand, Metres(1.75), self.direction().angle),
            space,
            found: strokes.len(),
            unsuitable: None,
            without_racket: false,
            hits: None,
            sound_late: None,
            strokes,
            corrected: Vec::new(),
        }
    }

    fn stroke(&self, place: usize) -> MeasuredStroke {
        let start = place as f64 * BETWEEN;
        let met = start + 2.0;
        let times: Vec<Seconds> =
            (0..(BETWEEN * RATE) as usize).map(|i| Seconds(start + i as f64 / RATE)).collect();
        let points = times
            .iter()
            .map(|t| {
                let mut body = body((t.0 - met) / 1.0, 0.03 * place as f64);
                if self.gap.is_some_and(|(from, to)| t.0 - met > from && t.0 - met < to) {
                    body[Landmark::RightWrist as usize] = None;
                }
                body
            })
            .collect();
        let motion = CourtMotion {
            hand: Side::Right,
            visibility: vec![[0.9; COUNT]; times.len()],
            depth_spread: vec![[0.1; COUNT]; times.len()],
            times,
            points,
            direction: self.direction(),
            ground: 0.0,
        };
        let mark = |t: f64| Mark { time: Seconds(met + t), method: Method::HandPosition };
        let phases = Phases {
            prep_start: Some(mark(-1.0)),
            drop_start: Some(mark(-0.5)),
            backswing_end: Some(mark(-0.4)),
            low_point: Some(mark(-0.25)),
            forward_start: Some(mark(-0.2)),
            contact: mark(0.0),
            finish_end: Some(mark(0.4)),
        };
        let kind = self.kinds[place % self.kinds.len()];
        let stroke = Stroke {
            kind,
            hands: Hands::One,
            volley: false,
            stance: None,
            phases,
            ball: None,
            motion,
            racket: None,
            flight: None,
            struck: None,
            stature: Metres(1.8),
        };
        let outcomes = CATALOGUE
            .iter()
            .map(|m| match m.of(&stroke) {
                _ if self.missing.contains(&place) => Err(Missing::Hidden),
                Ok(value) => Ok(Measurement { value, plus_minus: 4.0, grade: self.grade }),
                Err(missing) => Err(missing),
            })
            .collect();
        let source = Source {
            contact: Contact::marked(stroke.phases.contact.time, RATE),
            sources: Sources { jitter: 0.003, landmarks: [0.02; COUNT], rate: RATE, slowed: false },
            seed: place as u64,
        };
        MeasuredStroke {
            slowed: None,
            source,
            number: place + 1,
            stroke,
            racket: RacketMotion::default(),
            flight: None,
            measured: Measured { outcomes, boundaries: [Some(Seconds(0.02)); 7] },
        }
    }
}

/// A standing player whose right hand goes back, down and through; `t` in seconds from contact.
fn body(t: f64, ahead: f64) -> [Option<Court>; COUNT] {
    let mut points = [None; COUNT];
    let mut set = |landmark: Landmark, net: f64, side: f64, up: f64| {
        points[landmark as usize] = Some(Court::new(net, side, up));
    };
    let shift = 0.1 * (t / 0.3).tanh();
    for (side, across, net) in [(Side::Left, -1.0, 0.25), (Side::Right, 1.0, -0.25)] {
        set(Joint::Shoulder.on(side), shift, 0.18 * across, 1.40);
        set(Joint::Elbow.on(side), shift + 0.1, 0.30 * across, 1.15);
        set(Joint::Wrist.on(side), shift + 0.3, 0.25 * across, 1.10);
        set(Joint::Index.on(side), shift + 0.38, 0.25 * across, 1.10);
        set(Joint::Pinky.on(side), shift + 0.37, 0.25 * across, 1.08);
        set(Joint::Hip.on(side), shift, 0.12 * across, 0.95);
        set(Joint::Knee.on(side), 0.7 * net + 0.08, 0.14 * across, 0.50);
        set(Joint::Ankle.on(side), net, 0.15 * across, 0.10);
        set(Joint::Heel.on(side), net - 0.06, 0.15 * across, 0.04);
        set(Joint::Toe.on(side), net + 0.17, 0.15 * across, 0.03);
        set(Joint::Ear.on(side), shift, 0.08 * across, 1.62);
    }
    set(Landmark::Nose, shift + 0.1, 0.0, 1.62);
    // Back and up to the top of the loop, then down and forward on an arc.
    let swing = (2.6 * (t + 0.1)).tanh();
    let dip = (-((t + 0.25) / 0.2).powi(2)).exp();
    set(Landmark::RightWrist, 0.55 * swing + 0.35 + ahead, 0.45, 1.25 - 0.35 * dip + 0.2 * t.abs().min(0.6));
    points
}

/// Checks tags, attributes and entities of a document.
pub fn well_formed(xml: &str) -> Result<(), String> {
    let mut open: Vec<&str> = Vec::new();
    let mut rest = xml;
    let mut roots = 0;
    while let Some((text, after)) = rest.split_once('<') {
        entities(text)?;
        if open.is_empty() && !text.trim().is_empty() {
            return Err(format!("text outside the root: {text}"));
        }
        let (tag, after) = after.split_once('>').ok_or("a tag without an end")?;
        rest = after;
        if let Some(name) = tag.strip_prefix('/') {
            if open.pop() != Some(name) {
                return Err(format!("</{name}> closes another element"));
            }
            continue;
        }
        let (inner, empty) = tag.strip_suffix('/').map_or((tag, false), |inner| (inner, true));
        let (name, mut attributes) = inner.split_once(' ').unwrap_or((inner, ""));
        let mut names = Vec::new();
        while let Some((key, value)) = attributes.split_once("=\"") {
            let (value, after) = value.split_once('"').ok_or_else(|| format!("<{tag}>: an open value"))?;
            entities(value)?;
            let key = key.trim();
            if names.contains(&key) || key.is_empty() {
                return Err(format!("<{tag}>: attribute {key}"));
            }
            names.push(key);
            attributes = after;
        }
        if !attributes.trim().is_empty() {
            return Err(format!("<{tag}>: {attributes}"));
        }
        roots += usize::from(open.is_empty());
        if !empty {
            open.push(name);
        }
    }
    entities(rest)?;
    if open.is_empty() && roots == 1 && rest.trim().is_empty() {
        Ok(())
    } else {
        Err(format!("open: {open:?}, roots: {roots}"))
    }
}

fn entities(text: &str) -> Result<(), String> {
    for part in text.split('&').skip(1) {
        let name = part.split(';').next().unwrap_or_default();
        if !["lt", "gt", "amp", "quot", "apos"].contains(&name) {
            return Err(format!("&{name}"));
        }
    }
    if text.contains('>') { Err(format!("a bare > in {text}")) } else { Ok(()) }
}
