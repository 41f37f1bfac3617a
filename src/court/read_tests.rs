//! A court that is painted into a picture is read back.

use super::answer::answer;
use super::pose::YAW;
use super::read::Scene;
use super::{
    Assumptions, Camera, Empty, Evidence, Fit, Line, NET, Reading, Silence, Standing, Unknown, read,
};
use crate::geometry::{Point2, wrapped};
use crate::units::{Degrees, FrameIndex, Metres};
use crate::video::Picture;

const SIZE: (u32, u32) = (640, 360);
/// Where a player stands, metres to the right of the centre line and toward the net.
const BEHIND_BASELINE: (f64, f64) = (-0.5, 0.4);

fn camera() -> Camera {
    Camera {
        focal: 540.0,
        k1: 0.0,
        centre: Point2::new(319.5, 179.5),
        pitch: Degrees(-9.0),
        roll: Degrees(0.8),
        net: Degrees(50.0),
        height: Metres(2.2),
        x: Metres(5.0),
        y: Metres(-5.0),
    }
}

/// Whether the white band along the net's top hides the ground at a place from a camera.
fn is_behind_tape(camera: &Camera, (x, y): (f64, f64)) -> bool {
    let share = (NET - camera.y.0) / (y - camera.y.0);
    let (across, high) = (camera.x.0 + share * (x - camera.x.0), camera.height.0 * (1.0 - share));
    let top = 0.914 + 0.156 * across.abs() / 6.4;
    (0.0..1.0).contains(&share) && across.abs() < 6.4 && (top - 0.06..top).contains(&high)
}

fn is_painted((x, y): (f64, f64)) -> bool {
    Line::painted().filter(|line| *line != Line::Mark).any(|line| {
        let (across, along) = if line.is_along() { (x, y) } else { (y, x) };
        let width = if line.is_base() { 0.08 } else { 0.05 };
        let middle = line.place() + 0.5 * width * line.paint_side();
        let (from, to) = line.extent();
        (across - middle).abs() < 0.5 * width && (from..=to).contains(&along)
    })
}

/// The picture of the court alone, each pixel the mean of sixteen places.
fn court(camera: &Camera, painted: bool) -> Picture {
    let mut rgb = Vec::new();
    for (y, x) in (0..SIZE.1).flat_map(|y| (0..SIZE.0).map(move |x| (y, x))) {
        let mut sum = [0.0; 3];
        for (i, j) in (0..4).flat_map(|i| (0..4).map(move |j| (i, j))) {
            let off = |k: i32| (f64::from(k) - 1.5) / 4.0;
            let ground = camera.ground(Point2::new(f64::from(x) + off(i), f64::from(y) + off(j)));
            let colour = match ground {
                Some(place) if painted && (is_painted(place) || is_behind_tape(camera, place)) => {
                    [230.0, 232.0, 235.0]
                }
                Some((x, y)) if x.hypot(y) < 60.0 => [60.0, 120.0, 80.0],
                _ => [110.0, 150.0, 210.0],
            };
            sum.iter_mut().zip(colour).for_each(|(s, c)| *s += c / 16.0);
        }
        rgb.extend(sum.map(|s| s as u8));
    }
    Picture { width: SIZE.0, height: SIZE.1, rgb }
}

fn empty_of(camera: &Camera, painted: bool, (x, y): (f64, f64)) -> (Empty, Standing) {
    let player = [[x, y, 0.0], [x, y, 1.5]].map(|p| camera.project(p).unwrap());
    let empty = Empty {
        frame: FrameIndex(0),
        picture: court(camera, painted),
        hidden: vec![false; (SIZE.0 * SIZE.1) as usize],
        player: Some(player),
    };
    (empty, Standing::unknown(player[0], player[1]))
}

fn reading_of(camera: &Camera, painted: bool, player: (f64, f64)) -> (Reading, Point2) {
    let (empty, standing) = empty_of(camera, painted, player);
    (read(&empty, Some(standing), &Assumptions::of_size(SIZE)), standing.foot)
}

#[test]
fn the_camera_over_a_painted_court_is_read_back() {
    let truth = camera();
    let (reading, foot) = reading_of(&truth, true, BEHIND_BASELINE);
    assert_eq!(reading.evidence, Evidence::Camera);
    let off = |unknown, value: f64| {
        let (mean, spread) = reading.moments(unknown).unwrap();
        assert!((mean - value).abs() < 3.0 * spread, "{unknown:?} {mean} ± {spread} {value}");
        (mean - value).abs()
    };
    let bearing = wrapped(truth.bearing(foot).0).to_radians();
    assert!(off(Unknown::Bearing, bearing) < 0.5f64.to_radians());
    assert!(off(Unknown::Pitch, truth.pitch.radians()) < 0.5f64.to_radians());
    assert!(off(Unknown::Roll, truth.roll.radians()) < 0.3f64.to_radians());
    assert!(off(Unknown::LogFocal, truth.focal.ln()) < 0.03);
    assert!(off(Unknown::LogHeight, truth.height.0.ln()) < 0.03);
}

#[test]
fn a_camera_that_sees_no_line_across_but_the_net_is_read_back() {
    let truth = Camera {
        focal: 1200.0,
        pitch: Degrees(-18.1),
        net: Degrees(87.0),
        height: Metres(2.5),
        x: Metres(2.0),
        y: Metres(3.0),
        ..camera()
    };
    let (reading, foot) = reading_of(&truth, true, (2.2, 9.5));
    assert_eq!(reading.evidence, Evidence::Camera);
    assert!(reading.fits[0].lines.contains(&Line::Net), "{:?}", reading.fits[0].lines);
    let (mean, spread) = reading.moments(Unknown::Bearing).unwrap();
    let off = (mean.to_degrees() - wrapped(truth.bearing(foot).0)).abs();
    assert!(off < 3.0 * spread.to_degrees() && off < 2.0, "{off} {}", spread.to_degrees());
}

#[test]
fn a_court_without_lines_tells_nothing() {
    let (reading, _) = reading_of(&camera(), false, BEHIND_BASELINE);
    assert!(matches!(reading.evidence, Evidence::Nothing(Silence::NoLines | Silence::NoCourt)));
    assert!(reading.fits.is_empty() && reading.best().is_none());
}

#[test]
fn a_court_that_may_be_turned_by_a_half_is_given_both_ways_and_one_turned_a_little_is_not() {
    let (empty, standing) = empty_of(&camera(), true, BEHIND_BASELINE);
    let assumptions = Assumptions::of_size(SIZE);
    let scene = Scene::new(&empty, Some(standing), &assumptions);
    let judged = scene.readings();
    let beside = |turned: f64, cost: f64, otherwise: bool| {
        let mut all = judged.clone();
        let mut rival = all[0].clone();
        if otherwise {
            rival.fitted.named[0].1 = Line::Mark;
        }
        rival.fitted.pose[YAW] += turned.to_radians();
        rival.evidence -= 4.0;
        all[0].fitted.each.iter_mut().for_each(|each| *each += cost);
        all.insert(1, rival);
        answer(&scene, &all, FrameIndex(0), standing.foot)
    };
    let both = beside(180.0, 0.0, true);
    let bearing = |fit: &Fit| fit.mean(Unknown::Bearing).to_degrees();
    let best = bearing(&both.fits[0]);
    let turned: f64 =
        both.fits.iter().filter(|fit| wrapped(bearing(fit) - best).abs() > 90.0).map(|fit| fit.weight).sum();
    assert!((0.005..0.03).contains(&turned), "{turned}");
    assert_eq!(beside(20.0, 0.0, true).evidence, Evidence::Nothing(Silence::Ambiguous));
    // The same lines through another lens only leave the direction more open.
    let open = beside(20.0, 0.0, false);
    assert_eq!(open.evidence, Evidence::Camera);
    let spread = |reading: &Reading| reading.moments(Unknown::Bearing).unwrap().1.to_degrees();
    assert!(
        spread(&open) > 2.0 && spread(&open) > 3.0 * spread(&beside(0.0, 0.0, false)),
        "{}",
        spread(&open)
    );
    // Beside another answer the lines must lie well.
    assert_eq!(beside(180.0, 2.0, true).evidence, Evidence::Nothing(Silence::Ambiguous));
    assert_eq!(beside(0.0, 2.0, true).evidence, Evidence::Camera);
}
