//! From a player's motion to the numbers of every stroke in it.

use rayon::prelude::*;
use serde::Serialize;

use super::drawn::{Source, Sources};
use super::uncertainty::{self, Measured};
use crate::ball::{self, Around, Balls, Flight};
use crate::court::{Reading as Lines, Uprights};
use crate::geometry::Point2;
use crate::order::median;
use crate::pose::{Motion, Side};
use crate::racket::{self, Length, RacketMotion, Sightings};
use crate::recogniser::{self, Chances, Event};
use crate::scene::direction::{self, Swing};
use crate::scene::space::Lift;
use crate::scene::{
    ASSUMED_STATURE, Bearings, BodyPrior, CourtBall, CourtMotion, CourtRacket, Direction, Filmed, Ground,
    Known, Lens, LensEvidence, Space, Stand, Stature, Sway, Unsuitable,
};
use crate::sound::Heard;
use crate::stroke::hits::{self, Hits};
use crate::stroke::offset;
use crate::stroke::{
    self, Boundary, Contact, Correction, Corrections, CourtPoint, Distance, Hands, Hitting, Kind, Method,
    Phases, Sort, Stroke,
    contact::{self, Moved},
    hands, held, kind, slow,
};
use crate::units::{Degrees, FrameIndex, Metres, Reading, Seconds};

/// How far a stroke's motion reaches before and after the hand's speed peak, if no other stroke is nearer.
const BEFORE: Seconds = Seconds(3.2);
const AFTER: Seconds = Seconds(2.4);

/// A stroke's motion keeps this far from the peaks of its neighbours.
const FROM_NEIGHBOUR: Seconds = Seconds(0.45);

/// Of a stroke that a person has added, only contact is known; the hand's speed peaks about this long before it.
const PEAK_BEFORE_CONTACT: Seconds = Seconds(0.03);

/// The racket is looked for from this long before the preparation starts, for the ready pose, to this long after the finish.
const READY: Seconds = Seconds(0.3);
const AFTER_FINISH: Seconds = Seconds(0.05);

/// A stroke in which the racket was looked for this long before contact needs no other look.
const AT_CONTACT: Seconds = Seconds(0.15);

/// Body and racket move fast from this long before contact to this long after it. At other times every second picture shows the racket's way …
const FAST: (Seconds, Seconds) = (Seconds(0.5), Seconds(0.15));
/// … where there are so many a second.
const OFTEN: f64 = 48.0;

/// How long a finish whose end was not seen is looked at.
const USUAL_FINISH: Seconds = Seconds(0.5);

/// Contacts closer than this are of one stroke.
pub const SAME_STROKE: Seconds = Seconds(0.5);

/// What a person has stated about clip and player; everything unset is estimated.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Stated {
    /// The hitting hand.
    pub hand: Option<Side>,
    /// The player's stature.
    pub height: Option<Metres>,
    /// View and side of the net.
    pub direction: direction::Stated,
    /// Horizontal field of view.
    pub field_of_view: Option<Degrees>,
    /// The flat method instead of the perspective one.
    pub planar: bool,
    /// From the camera to the player over the ground.
    pub camera_distance: Option<Metres>,
    /// The lens over the ground.
    pub camera_height: Option<Metres>,
    /// Whether no ball is hit in the clip, as in shadow swings.
    pub shadow: bool,
    /// The racket's true length.
    pub racket_length: Option<Metres>,
    /// Pictures a second that the camera took, where the file tells another rate.
    pub capture_rate: Option<f64>,
    /// A pixel on the player.
    pub subject: Option<Point2>,
    /// What was corrected after a look at the numbers.
    pub corrections: Corrections,
}

/// What file, networks and pictures have shown besides the player's motion.
#[derive(Debug, Clone, Default)]
pub struct Seen {
    /// The lens's 35 mm equivalent from the file.
    pub equivalent_mm: Option<f64>,
    /// What is known about the pose model's body.
    pub body: BodyPrior,
    /// What there is to hear; `None` where the clip has no sound that can be used.
    pub sound: Option<Heard>,
    /// The player's stature as other clips have shown it; `None` where none has.
    pub stature: Option<Stature>,
    /// The racket; `None` where nobody has looked for it.
    pub racket: Option<Sightings>,
    /// Balls near contact; `None` where nobody has looked for them.
    pub balls: Option<Balls>,
    /// What the court's lines say of the camera; `None` where nobody has looked for them.
    pub lines: Option<Lines>,
    /// What stands upright around the court; `None` where nobody has looked for it.
    pub uprights: Option<Uprights>,
    /// Which strokes the recogniser sees.
    pub chances: Chances,
}

/// What the numbers depend on besides the motion.
#[derive(Debug, Clone, Copy)]
struct Given<'a> {
    stated: &'a Stated,
    seen: &'a Seen,
}

/// A stroke with its numbers.
#[derive(Debug, Clone, PartialEq)]
pub struct MeasuredStroke {
    /// Its number in the clip, from 1; numbers of strokes that were taken out are left free.
    pub number: usize,
    /// The stroke.
    pub stroke: Stroke,
    /// The racket in the stroke's pictures; without any where it was not looked for.
    pub racket: RacketMotion,
    /// The ball's ways around contact, where it was seen.
    pub flight: Option<Flight>,
    /// How many times slower than bodies swing it is shown; `None` where it may be as it was.
    pub slowed: Option<f64>,
    /// What its uncertainty is drawn from.
    pub source: Source,
    /// Its values and their uncertainty.
    pub measured: Measured,
}

/// The numbers of a clip.
#[derive(Debug, Clone, PartialEq)]
pub struct ClipMeasures {
    /// The hitting hand; `None` when no stroke was found.
    pub hitting: Option<Hitting>,
    /// Where the net is; `None` when no stroke was found.
    pub direction: Option<Direction>,
    /// The camera as it stood, and the player's stature.
    pub filmed: Filmed,
    /// The player's motion in the camera's frame.
    pub space: Space,
    /// Why nothing was measured, where the view does not allow it.
    pub unsuitable: Option<Unsuitable>,
    /// Whether somebody moves as in a stroke, but no racket is plain in the hand that would play it, so that no stroke is told.
    pub without_racket: bool,
    /// What the sound says of the strokes, in their order; `None` where it was not listened to.
    pub hits: Option<Hits>,
    /// How late the clip's sound is on its pictures, the way of the sound taken off; `None` where no hit was heard.
    pub sound_late: Option<Reading>,
    /// The strokes in order of time.
    pub strokes: Vec<MeasuredStroke>,
    /// How many strokes were found before single ones were taken out or added.
    pub found: usize,
    /// What a person's corrections have changed.
    pub corrected: Vec<Corrected>,
}

/// Something that a person has corrected, in words.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Corrected {
    /// The stroke's number; none for what concerns the whole clip.
    pub stroke: Option<usize>,
    /// What was corrected, as marks name it.
    pub event: &'static str,
    /// What was found without the correction, where that is known.
    pub before: Option<String>,
    /// What was said.
    pub after: String,
    /// How far a time was moved.
    #[serde(skip)]
    pub shift: Option<Seconds>,
}

impl<'a> Given<'a> {
    /// What is known of the camera of pictures of `size` pixels.
    fn camera<'l>(
        &self,
        size: (u32, u32),
        lines: Option<&'l Lines>,
        uprights: Option<&'l Uprights>,
    ) -> Known<'l>
    where
        'a: 'l,
    {
        let Self { stated, seen } = *self;
        Known {
            lens: LensEvidence { size, view: stated.field_of_view, equivalent_mm: seen.equivalent_mm },
            distance: stated.camera_distance,
            height: stated.camera_height,
            stature: stated.corrections.height.or(stated.height).map(Stature::given).or(seen.stature),
            lines,
            placed: stated.corrections.placed.as_ref(),
            uprights,
        }
    }
}

/// The camera, as far as it can be told before the strokes are found.
fn camera_of(motion: &Motion, given: &Given<'_>, known: &Known<'_>, lift: Lift) -> Filmed {
    let usual = Stand::level(Lens::usual(motion.size));
    let seen = Space::lift(motion, &usual, ASSUMED_STATURE, &given.seen.body, lift);
    Filmed::of(known, Ground::of(&seen))
}

/// Finds and measures every stroke of a motion.
pub fn measure(motion: &Motion, stated: &Stated, seen: &Seen) -> ClipMeasures {
    Unmeasured::of(motion, stated, seen).measure()
}

/// Where the racket is to be looked for: around which hand, from when to when, and when the ball is met.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Span {
    hand: Side,
    /// A little before the preparation starts.
    from: Seconds,
    /// A little after the finish ends.
    to: Seconds,
    contact: Seconds,
}

impl Span {
    fn of(hand: Side, phases: &Phases) -> Self {
        let contact = phases.contact.time;
        let end = phases.finish_end.map_or(contact + USUAL_FINISH, |mark| mark.time);
        Self { hand, from: phases.preparation_begin() - READY, to: end + AFTER_FINISH, contact }
    }

    /// When body and racket move fast.
    fn fast(&self) -> (Seconds, Seconds) {
        (self.contact - FAST.0, self.contact + FAST.1)
    }

    /// Pictures of a motion right before contact.
    fn at_contact<'m>(&self, motion: &'m Motion) -> &'m [FrameIndex] {
        Self { from: self.contact - AT_CONTACT, to: self.contact, ..*self }.frames(motion)
    }

    /// Pictures of a motion in it in which the racket is looked for: all around contact, fewer where it moves slowly.
    fn looked_at<'m>(&self, motion: &'m Motion) -> impl Iterator<Item = FrameIndex> + use<'m> {
        let step = if motion.rate >= OFTEN { 2 } else { 1 };
        let (from, to) = self.fast();
        let fast = Self { from, to, ..*self }.frames(motion);
        let is_fast = move |frame: FrameIndex| fast.first() <= Some(&frame) && Some(&frame) <= fast.last();
        let frames = self.frames(motion).iter().copied();
        frames.filter(move |frame| frame.0.is_multiple_of(step) || is_fast(*frame))
    }

    /// Pictures of a motion in it.
    fn frames<'m>(&self, motion: &'m Motion) -> &'m [FrameIndex] {
        let from = motion.times.partition_point(|t| *t < self.from);
        let to = motion.times.partition_point(|t| *t <= self.to);
        &motion.indices[from..to.max(from)]
    }
}

/// A stroke before its racket and its numbers.
#[derive(Debug)]
struct Draft {
    number: usize,
    seed: u64,
    stroke: Stroke,
    contact: Contact,
    flight: Option<Flight>,
}

impl Draft {
    /// Where its racket is to be looked for.
    fn span(&self) -> Span {
        Span::of(self.stroke.motion.hand, &self.stroke.phases)
    }
}

/// A clip whose strokes are found and split, before their rackets and numbers: which pictures show the racket isn't known
/// earlier.
#[derive(Debug)]
pub struct Unmeasured<'a> {
    motion: &'a Motion,
    given: Given<'a>,
    found: Found,
}

/// What was found in a motion.
#[derive(Debug)]
pub struct Found {
    clip: ClipMeasures,
    sources: Sources,
    /// What may be strokes, before the racket has been asked.
    candidates: Vec<Event>,
    hitting_and_direction: Option<(Hitting, Direction)>,
    strokes: Vec<Draft>,
}

impl<'a> Unmeasured<'a> {
    /// What was found, apart from what it was found in.
    pub fn into_found(self) -> Found {
        self.found
    }

    /// What [`Self::of`] has found in the same motion with the same things stated and seen.
    pub fn with(found: Found, motion: &'a Motion, stated: &'a Stated, seen: &'a Seen) -> Self {
        Self { motion, given: Given { stated, seen }, found }
    }

    /// Pictures in which the racket is still to be looked for, and around which hand: those of strokes in which nobody has
    /// looked, and single ones at both wrists where there may be a stroke. Corrections move strokes a little; what was seen then is enough.
    pub fn to_look_at(&self, seen: &Sightings) -> Vec<(FrameIndex, Side)> {
        let motion = self.motion;
        // Where the hand isn't seen nobody can look.
        let is_left = |hand, frame| seen.at(hand, frame).is_none() && racket::can_look(motion, frame, hand);
        let is_known = |span: &Span| !span.at_contact(motion).iter().any(|frame| is_left(span.hand, *frame));
        let through = self
            .found
            .strokes
            .iter()
            .map(Draft::span)
            .filter(|span| !is_known(span))
            .flat_map(|span| span.looked_at(motion).map(move |frame| (frame, span.hand)))
            .filter(|(frame, hand)| racket::can_look(motion, *frame, *hand));
        // What may be a stroke is asked for its racket at both wrists.
        let around = self.found.candidates.iter().flat_map(|event| {
            let both = |frame| [Side::Right, Side::Left].map(|hand| (frame, hand));
            held::frames(event, motion).into_iter().flat_map(both)
        });
        let mut wanted: Vec<(FrameIndex, Side)> =
            through.chain(around.filter(|(frame, hand)| is_left(*hand, *frame))).collect();
        wanted.sort();
        wanted.dedup();
        wanted
    }

    /// When each stroke is: from a little before its preparation to a little after its finish.
    pub fn spans(&self) -> Vec<(Seconds, Seconds)> {
        self.found.strokes.iter().map(Draft::span).map(|span| (span.from, span.to)).collect()
    }

    /// When the player moves fast in each stroke.
    pub fn fast(&self) -> Vec<(Seconds, Seconds)> {
        self.found.strokes.iter().map(|stroke| stroke.span().fast()).collect()
    }

    /// When there may be a stroke, believed or not: from a time before contact to as long after it.
    pub fn moments(&self, around: Seconds) -> impl Iterator<Item = (Seconds, Seconds)> {
        let contacts = self.found.candidates.iter().map(|event| event.contact.time);
        contacts.map(move |contact| (contact - around, contact + around))
    }

    /// Contacts around which balls are still to be looked for.
    pub fn to_watch(&self, seen: &Balls) -> Vec<Around> {
        let around = |draft: &Draft| Around {
            hand: draft.stroke.motion.hand,
            contact: Reading { time: draft.stroke.phases.contact.time, spread: draft.contact.spread },
        };
        let unknown = |around: &Around| seen.around(around.hand, around.contact.time).is_none();
        self.found.strokes.iter().map(around).filter(unknown).collect()
    }

    /// The same strokes with the camera known otherwise: `how` answers with the camera as it would be known.
    pub fn knowing(mut self, how: impl FnOnce(&Filmed) -> Filmed) -> Self {
        self.found.clip.filmed = how(&self.found.clip.filmed);
        self
    }

    /// Puts the rackets that were seen into the strokes and measures them.
    pub fn measure(self) -> ClipMeasures {
        let Self { motion, given, found } = self;
        let Found { mut clip, sources, hitting_and_direction, strokes, .. } = found;
        let pace = |draft: &Draft| {
            slow::pace(&clip.space, draft.stroke.motion.hand, draft.stroke.phases.contact.time)
        };
        let slowed = slow::slowed(&strokes.iter().map(pace).collect::<Vec<_>>());
        // Each stroke draws its own errors, so that neither their order nor the number of cores changes a digit.
        let strokes: Vec<MeasuredStroke> = strokes
            .into_par_iter()
            .zip(slowed)
            .map(|(draft, slowed)| {
                let racket = trace_racket(motion, given, &draft.span());
                let Draft { number, seed, mut stroke, contact, flight } = draft;
                stroke.racket = CourtRacket::new(
                    &racket,
                    motion,
                    &clip.space,
                    &stroke.motion,
                    Length::of(given.stated.racket_length, clip.filmed.stature.told()),
                    stroke.phases.contact.time,
                );
                let met = (stroke.racket.as_ref(), stroke.phases.contact.time);
                let side = stroke.kind.side();
                let ball = |flight| CourtBall::new(flight, &clip.space, &stroke.motion, side, met);
                stroke.flight = flight.as_ref().map(ball);
                stroke.struck =
                    stroke.flight.as_ref().and_then(|ball| ball.from_hand(&stroke.motion, met.0, met.1));
                let mut sources = sources;
                sources.slowed = slowed.is_some();
                let source = Source { contact, sources, seed };
                let measured = uncertainty::measure(&stroke, &source, (&clip.space, &clip.filmed));
                MeasuredStroke { number, stroke, racket, flight, slowed, source, measured }
            })
            .collect();
        clip.strokes = strokes;
        if let Some((hitting, direction)) = hitting_and_direction {
            // Where no stroke is left nothing but the court tells where the net is.
            let is_played = !clip.strokes.is_empty();
            clip.hitting = is_played.then_some(hitting);
            clip.direction = (is_played || clip.filmed.court.is_some()).then_some(direction);
        }
        clip
    }

    /// Finds every stroke of a motion and splits it.
    pub fn of(picture: &'a Motion, stated: &'a Stated, seen: &'a Seen) -> Self {
        let given = Given { stated, seen };
        let said = &given.stated.corrections;
        let lift = if given.stated.planar { Lift::Planar } else { Lift::Perspective };
        // Of a camera that was moved the lines and posts were read in one picture; the motion is that of a camera that stood still.
        let still = Sway::of(picture);
        let from = |frame: FrameIndex| {
            let place = picture.indices.partition_point(|index| *index < frame);
            still.steady(place, Point2::default())
        };
        let lines = seen.lines.as_ref().map(|lines| lines.moved(from(lines.frame)));
        let uprights = seen.uprights.as_ref().map(|uprights| uprights.moved(from(uprights.frame)));
        let known = given.camera(picture.size, lines.as_ref(), uprights.as_ref());
        let mut filmed = camera_of(picture, &given, &known, lift);
        let lifted = |filmed: &Filmed, motion: &Motion| {
            Space::lift(motion, &filmed.stand, filmed.scale, &given.seen.body, lift)
        };
        let mut space = lifted(&filmed, picture);
        let lines = filmed.bearings(&known);
        let hand = said.hand.or(given.stated.hand);
        let candidates = recogniser::events(&given.seen.chances);
        let events = believed(&candidates, picture, given);
        let without_racket = events.is_empty() && candidates.iter().any(|event| event.odds > BELIEVED);
        let stated = given.stated.direction;
        let unsuitable = Unsuitable::of(picture);
        let find = |space: &Space, lines: Option<&Bearings>| {
            stroke::find(space, &given.seen.body, hand, stated, lines, &events)
        };
        let mut found = unsuitable.is_none().then(|| find(&space, lines.as_ref())).flatten();
        let mut by_court = None;
        let facing = match (&found, &lines) {
            (Some(found), _) => Some((found.direction, found.player.clone())),
            (None, Some(lines)) if unsuitable.is_none() => {
                direction::without_strokes(&space, &given.seen.body, stated, lines)
                    .map(|weighed| (weighed.direction, weighed.player))
            }
            _ => None,
        };
        if let Some((told, player)) = facing {
            let before = filmed.stand;
            let told = filmed.face(told, &player, &known);
            if filmed.stand != before {
                space.forget();
                space = lifted(&filmed, picture);
            }
            match (&mut found, told) {
                (Some(found), Some(told)) => found.direction = told,
                (Some(_), None) => {
                    found = find(&space, None).map(|mut again| {
                        again.direction =
                            filmed.face(again.direction, &again.player, &known).unwrap_or(again.direction);
                        again
                    });
                }
                (None, told) => by_court = told,
            }
        }
        let mut clip = ClipMeasures {
            hitting: None,
            direction: by_court,
            filmed,
            space,
            unsuitable,
            without_racket,
            hits: None,
            sound_late: None,
            strokes: Vec::new(),
            found: 0,
            corrected: of_the_whole_clip(said, given),
        };
        let sources = Sources {
            jitter: clip.space.jitter.max(0.003),
            landmarks: given.seen.body.landmark_spread(),
            rate: clip.space.rate,
            slowed: false,
        };
        let Some(stroke::Found { hitting, direction, swings, .. }) = found else {
            let found = Found { clip, sources, candidates, hitting_and_direction: None, strokes: Vec::new() };
            return Self { motion: picture, given, found };
        };
        let peaks = peaks(&swings, &events, said, &given.seen.chances);
        let drafts: Vec<(Peak, std::ops::Range<usize>, Movement)> = peaks
            .iter()
            .enumerate()
            .filter_map(|(i, peak)| {
                let neighbours = (i.checked_sub(1).map(|j| peaks[j].time), peaks.get(i + 1).map(|p| p.time));
                let window = window(&clip.space, peak.time, neighbours);
                let motion = CourtMotion::new(&clip.space, &direction, hitting.hand, window.clone());
                Some((*peak, window, Movement::of(&motion, peak, None)?))
            })
            .collect();
        clip.found = drafts.iter().filter(|(peak, ..)| peak.added.is_none()).count();
        let mut swung: Vec<Swung> = Vec::new();
        let mut found = 0;
        for (peak, window, as_seen) in drafts {
            let (number, seed) = match peak.added {
                None => {
                    found += 1;
                    (found, peak.place)
                }
                Some(_) => (clip.found + 1 + peak.place, swings.len() + peak.place),
            };
            let mut said = said.of(number);
            if said.no_stroke {
                clip.corrected.push(Corrected::of_stroke(number, "no_stroke", None, "yes".to_owned()));
                continue;
            }
            said.times[Boundary::Contact as usize] = said.time(Boundary::Contact).or(peak.added);
            let motion_of = |hand| CourtMotion::new(&clip.space, &direction, hand, window.clone());
            let (hand, movement) = corrected_movement(
                number,
                &said,
                hitting.hand,
                as_seen,
                &peak,
                motion_of,
                &mut clip.corrected,
            );
            let event = peak.event;
            swung.push(Swung {
                number,
                seed: seed as u64,
                peak: peak.time,
                event,
                window,
                hand,
                movement,
                said,
            });
        }
        let distance =
            Distance { stated: given.stated.camera_distance, spread: clip.filmed.distance_spread() };
        let listened = listen(&swung, given, &clip.space, distance);
        let mut flights: Vec<Option<Flight>> = vec![None; swung.len()];
        let mut contacts = settle(&swung, listened.as_ref(), &flights, sources.rate).0;
        for _ in 0..BALL_ROUNDS {
            let expected = swung.par_iter().zip(&contacts);
            let now = expected.map(|(swung, contact)| see_ball(swung, contact, picture, given)).collect();
            flights = ball::still_seen(now, flights);
            (contacts, clip.sound_late) = settle(&swung, listened.as_ref(), &flights, sources.rate);
        }
        clip.hits = listened.map(|listened| listened.hits);
        let impacts: Vec<Seconds> =
            contacts.iter().filter(|contact| contact.is_instant()).map(|contact| contact.mark.time).collect();
        if !impacts.is_empty() {
            clip.space.forget();
            clip.space = lifted(&clip.filmed, &picture.struck_at(&impacts));
        }
        let mut strokes = Vec::new();
        for (i, ((swung, contact), flight)) in swung.into_iter().zip(contacts).zip(flights).enumerate() {
            let motion = CourtMotion::new(&clip.space, &direction, swung.hand, swung.window.clone());
            let (kind, volley) = (swung.movement.kind, swung.is_volley());
            let phases = swung.phases(&motion, &contact, Sort::of(kind, volley), &mut clip.corrected);
            let stance = kind::stance(&motion, kind, contact.mark.time);
            let heard = clip.hits.as_ref().and_then(|hits| hits.ball[i]);
            let ball = match (given.stated.shadow, &flight) {
                (true, _) => Some(false),
                (false, Some(_)) => Some(true),
                (false, None) => heard,
            };
            let forward_start = phases.forward_start.map(|mark| mark.time);
            let stroke = Stroke {
                kind,
                hands: swung.hands(|| hands::from_wrists(&motion, forward_start, contact.mark.time)),
                volley,
                stance,
                phases,
                ball,
                motion,
                racket: None,
                flight: None,
                struck: None,
                stature: clip.filmed.stature.metres,
            };
            strokes.push(Draft { number: swung.number, seed: swung.seed, stroke, contact, flight });
        }
        let found =
            Found { clip, sources, candidates, hitting_and_direction: Some((hitting, direction)), strokes };
        Self { motion: picture, given, found }
    }
}

/// The odds of a stroke to none (logarithm) from which on it is believed. From players and movements that were not learnt from.
const BELIEVED: f64 = 1.25;

/// What may be strokes, weighed by the racket; those that are believed.
fn believed(candidates: &[Event], motion: &Motion, given: Given<'_>) -> Vec<Event> {
    let weigh =
        |event: &Event| held::weighed(*event, given.seen.racket.as_ref(), motion, given.stated.shadow);
    recogniser::believed(candidates.iter().map(weigh).collect(), BELIEVED)
}

/// The racket's path through a stroke among what was seen of it.
fn trace_racket(motion: &Motion, given: Given<'_>, span: &Span) -> RacketMotion {
    let tips = &given.stated.corrections.racket_tips;
    match &given.seen.racket {
        Some(seen) => racket::trace(motion, seen, span.hand, (span.from, span.to), span.contact, tips),
        None => RacketMotion::default(),
    }
}

/// A peak of the hand's speed that stands for a stroke.
#[derive(Debug, Clone, Copy)]
struct Peak {
    time: Seconds,
    /// Its place among those that were found, or among those that were added.
    place: usize,
    /// The contact that a person has named for a stroke that was missed.
    added: Option<Seconds>,
    /// What was recognised there.
    event: Option<Event>,
}

/// Peaks of the found swings and of those that a person has added, in order of time.
fn peaks(swings: &[Swing], events: &[Event], said: &Corrections, chances: &Chances) -> Vec<Peak> {
    let found = swings.iter().enumerate().map(|(place, swing)| Peak {
        time: swing.peak,
        place,
        added: None,
        event: events.get(place).copied(),
    });
    let added = said.added.iter().enumerate().map(|(place, contact)| Peak {
        time: *contact - PEAK_BEFORE_CONTACT,
        place,
        added: Some(*contact),
        event: recogniser::event_at(chances, *contact),
    });
    // What is found already is not added once more.
    let added = added.filter(|peak| swings.iter().all(|s| (s.peak - peak.time).abs() >= SAME_STROKE));
    let mut peaks: Vec<Peak> = found.chain(added).collect();
    peaks.sort_by(|a, b| a.time.0.total_cmp(&b.time.0));
    peaks
}

impl Corrected {
    fn of_stroke(number: usize, event: &'static str, before: Option<String>, after: String) -> Self {
        Self { stroke: Some(number), event, before, after, shift: None }
    }

    /// What was corrected as a line for a person.
    pub fn line(&self) -> String {
        let whose = self.stroke.map_or_else(String::new, |number| format!(" of stroke {number}"));
        let before = self.before.as_ref().map_or_else(String::new, |before| format!("{before} → "));
        format!("{}{whose}: {before}{}", self.event, self.after)
    }
}

/// What is corrected for all strokes at once.
fn of_the_whole_clip(said: &Corrections, given: Given<'_>) -> Vec<Corrected> {
    let centimetres = |height: Metres| format!("{:.0} cm", 100.0 * height.0);
    let whole = |event, before, after| Corrected { stroke: None, event, before, after, shift: None };
    let mut lines = Vec::new();
    if let Some(hand) = said.hand {
        lines.push(whole(
            "hand",
            given.stated.hand.map(|hand| hand.name().to_owned()),
            hand.name().to_owned(),
        ));
    }
    if let Some(height) = said.height {
        lines.push(whole("scale", given.stated.height.map(centimetres), centimetres(height)));
    }
    for tip in &said.racket_tips {
        lines.push(whole("racket_tip", None, format!("{:.0},{:.0} in {}", tip.at.x, tip.at.y, tip.frame)));
    }
    for point in &said.court_points {
        let CourtPoint { spot, frame, at } = point;
        lines.push(whole(
            "court_point",
            None,
            format!("{} at {:.0},{:.0} in {frame}", spot.name, at.x, at.y),
        ));
    }
    lines
}

/// Kind and kinematic contact of a swing as a person's word about hand and kind has it, and the hand.
fn corrected_movement(
    number: usize,
    said: &Correction,
    usual: Side,
    as_seen: Movement,
    peak: &Peak,
    motion_of: impl Fn(Side) -> CourtMotion,
    log: &mut Vec<Corrected>,
) -> (Side, Movement) {
    let mut changed = |event, before: &str, after: &str| {
        log.push(Corrected::of_stroke(number, event, Some(before.to_owned()), after.to_owned()));
    };
    let hand = said.hand.unwrap_or(usual);
    // Another hand's movement says something else about the kind as well, unless that was said too.
    let movement = match said.kind {
        None if hand == usual => as_seen,
        kind => Movement::of(&motion_of(hand), peak, kind).unwrap_or(as_seen),
    };
    if said.hand.is_some() {
        changed("hand", usual.name(), hand.name());
    }
    if said.kind.is_some() {
        changed("kind", as_seen.kind.name(), movement.kind.name());
    }
    (hand, movement)
}

/// Pictures that belong to the stroke with its peak at `peak`.
fn window(
    space: &Space,
    peak: Seconds,
    (before, after): (Option<Seconds>, Option<Seconds>),
) -> std::ops::Range<usize> {
    let from = before.map_or(peak - BEFORE, |t| (t + FROM_NEIGHBOUR).max(peak - BEFORE));
    let to = after.map_or(peak + AFTER, |t| (t - FROM_NEIGHBOUR).min(peak + AFTER));
    space.times.partition_point(|t| *t < from)..space.times.partition_point(|t| *t <= to)
}

/// What the hand's movement says of a swing.
#[derive(Debug, Clone, Copy)]
struct Movement {
    kind: Kind,
    moved: Moved,
}

impl Movement {
    /// Names and times the swing whose speed peaks at `peak`, with its kind where that is known; `None` when the motion has
    /// a gap there and nothing was recognised.
    fn of(motion: &CourtMotion, peak: &Peak, kind: Option<Kind>) -> Option<Self> {
        let recognised = || peak.event.map(|event| kind::recognised(&event, motion.hand));
        let kind = kind.or_else(recognised).unwrap_or(Kind::Unknown);
        let path = contact::kinematic(motion, kind, peak.time);
        let moved = contact::from_movement(path, peak.event.map(|event| event.contact))?;
        Some(Self { kind, moved })
    }
}

/// A swing before its contact is settled.
struct Swung {
    number: usize,
    seed: u64,
    peak: Seconds,
    event: Option<Event>,
    window: std::ops::Range<usize>,
    hand: Side,
    movement: Movement,
    said: Correction,
}

/// What is likelier than not.
const LIKELY: f64 = 0.5;

impl Swung {
    /// How many hands hold the racket: in a backhand as it was recognised, else as far as the wrists are apart.
    fn hands(&self, seen: impl FnOnce() -> Hands) -> Hands {
        match (self.movement.kind, self.event) {
            (Kind::Backhand, Some(event)) if event.both > LIKELY => Hands::Two,
            (Kind::Backhand, Some(_)) => Hands::One,
            _ => seen(),
        }
    }

    /// Whether the ball is met before it bounces, at the net.
    fn is_volley(&self) -> bool {
        let can_be = matches!(self.movement.kind, Kind::Forehand | Kind::Backhand);
        can_be && self.event.is_some_and(|event| event.volley > LIKELY)
    }

    /// Splits the swing between what was said of its boundaries.
    fn phases(
        &self,
        motion: &CourtMotion,
        contact: &Contact,
        sort: Sort,
        log: &mut Vec<Corrected>,
    ) -> Phases {
        let marks = self.said.marks();
        if marks.iter().all(Option::is_none) {
            return Phases::split(motion, contact.mark, sort);
        }
        let mut found = Phases::split(motion, contact.mark, sort);
        found.contact.time = self.movement.moved.contact.time;
        for (boundary, mark) in Boundary::ALL.into_iter().zip(marks) {
            let Some(mark) = mark else { continue };
            let before = found.get(boundary).map(|mark| mark.time);
            let seconds = |time: Seconds| format!("{:.3} s", time.0);
            let line =
                Corrected::of_stroke(self.number, boundary.name(), before.map(seconds), seconds(mark.time));
            log.push(Corrected { shift: before.map(|before| mark.time - before), ..line });
        }
        Phases::split_between(motion, contact.mark, sort, marks)
    }
}

/// Balls are looked for again with what those that were found say of how late the sound is.
const BALL_ROUNDS: usize = 2;

/// What a clip's sound says of its swings.
struct Listened {
    hits: Hits,
    rewritten: bool,
    /// Error of the time that the sound is under way, common to the clip (1 standard deviation).
    way: Seconds,
}

/// Looks for the hits of the swings in the clip's sound; `None` without sound, or where the user says there is no ball.
fn listen(swung: &[Swung], given: Given<'_>, space: &Space, distance: Distance) -> Option<Listened> {
    let heard = given.seen.sound.as_ref().filter(|_| !given.stated.shadow)?;
    let expected: Option<Vec<hits::Swung>> = swung
        .iter()
        .map(|swung| {
            let kinematic = swung.movement.moved.contact;
            let delay = distance.delay(space, swung.hand, kinematic.time)?;
            Some(hits::Swung { kinematic, delay })
        })
        .collect();
    let expected = expected?;
    let way = median(expected.iter().map(|swung| swung.delay.spread.0)).map_or(Seconds(0.0), Seconds);
    let hits = hits::among_swings(&expected, heard, Seconds(1.0 / space.rate));
    Some(Listened { hits, rewritten: heard.rewritten, way })
}

/// A ball's turning point that is expected more surely than this (1 standard deviation) is looked for as widely all the
/// same: sights of a ball are coarse.
const BALL_EXPECTED: Seconds = Seconds(0.010);

/// The ball's ways around a swing's contact.
fn see_ball(swung: &Swung, contact: &Contact, motion: &Motion, given: Given<'_>) -> Option<Flight> {
    let seen = given.seen.balls.as_ref().filter(|_| !given.stated.shadow)?;
    let settled = Reading { time: contact.mark.time, spread: contact.spread };
    let expected = seen.looked_at(swung.hand, [settled, swung.movement.moved.contact])?;
    let expected = Reading { spread: expected.spread.max(BALL_EXPECTED), ..expected };
    ball::trace(seen, motion, swung.hand, expected, given.seen.racket.as_ref())
}

/// A reading farther from a surer one than this many of its standard deviations was misled and witnesses nothing.
const CONTRADICTS: f64 = 3.0;

/// Contact of each swing from everything that witnessed it, and how late the sound is; a person's word stands against all.
fn settle(
    swung: &[Swung],
    listened: Option<&Listened>,
    flights: &[Option<Flight>],
    rate: f64,
) -> (Vec<Contact>, Option<Reading>) {
    let balls: Vec<Option<Reading>> =
        flights.iter().map(|flight| flight.as_ref().and_then(Flight::turning_point)).collect();
    let hands: Vec<Reading> = swung.iter().map(|swung| swung.movement.moved.contact).collect();
    let evidence = listened.map(|listened| offset::Evidence {
        rewritten: listened.rewritten,
        sounds: &listened.hits.of_swings,
        hands: &hands,
        balls: &balls,
        way: listened.way,
    });
    let sounds = evidence.map_or(Vec::new(), |evidence| evidence.in_pictures());
    let late = evidence.filter(|e| e.sounds.iter().any(Option::is_some)).map(|e| e.offset());
    // What the hits are later than the movement, less what the sound is later than the pictures.
    let shift = listened.and_then(|listened| listened.hits.shift).zip(late).map(|(shift, late)| Reading {
        time: shift.time - late.time,
        spread: Seconds(shift.spread.0.hypot(late.spread.0)),
    });
    let settle_one = |(i, swung): (usize, &Swung)| {
        if let Some(time) = swung.said.time(Boundary::Contact) {
            return Contact::marked(time, rate);
        }
        let kinematic = swung.movement.moved.contact;
        let by_movement = Contact::by_movement(swung.movement.moved, swung.peak, shift);
        let (ball, sound) = (balls[i], sounds.get(i).copied().flatten());
        // Where there is a sound, the hands of all strokes have had their say in how late it is.
        let hand = sound.is_none().then_some(kinematic);
        let mut told = [(Method::Ball, ball), (Method::Sound, sound), (Method::Kinematic, hand)];
        // Surest first.
        let spread = |reading: &Option<Reading>| reading.map_or(f64::INFINITY, |reading| reading.spread.0);
        told.sort_by(|a, b| spread(&a.1).total_cmp(&spread(&b.1)));
        let mut witnesses: Vec<(Method, Reading)> = Vec::new();
        let mut disputed = Seconds(0.0);
        for (method, reading) in told {
            let Some(reading) = reading else { continue };
            let apart = |surer: &Reading| (reading.time - surer.time).abs();
            let contradicts =
                |surer: &&Reading| apart(surer).0 >= CONTRADICTS * surer.spread.0.hypot(reading.spread.0);
            match witnesses.iter().map(|(_, surer)| surer).find(contradicts) {
                None => witnesses.push((method, reading)),
                // Either the ball was seen or the hit was heard elsewhere: nobody knows which.
                Some(surer) if method != Method::Kinematic => disputed = disputed.max(apart(surer)),
                Some(_) => (),
            }
        }
        if witnesses.iter().all(|(method, _)| *method == Method::Kinematic) {
            return by_movement;
        }
        Contact::fused(&witnesses).map_or(by_movement, |contact| contact.disputed(disputed))
    };
    (swung.iter().enumerate().map(settle_one).collect(), late)
}
