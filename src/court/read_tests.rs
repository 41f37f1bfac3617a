//! A court that is painted into a picture is read back.

use super::{Assumptions, Camera, Empty, Evidence, Line, Reading, Silence, Standing, Unknown, read};
use crate::geometry::{Point2, wrapped};
use crate::units::{Degrees, FrameIndex, Metres};
use crate::video::Picture;

const SIZE: (u32, u32) = (640, 360);

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
                Some(place) if painted && is_painted(place) => [230.0, 232.0, 235.0],
                Some((x, y)) if x.hypot(y) < 60.0 => [60.0, 120.0, 80.0],
                _ => [110.0, 150.0, 210.0],
            };
            sum.iter_mut().zip(colour).for_each(|(s, c)| *s += c / 16.0);
        }
        rgb.extend(sum.map(|s| s as u8));
    }
    Picture { width: SIZE.0, height: SIZE.1, rgb }
}

fn reading_of(camera: &Camera, painted: bool) -> (Reading, Point2) {
    let player = [[-0.5, 0.4, 0.0], [-0.5, 0.4, 1.5]].map(|p| camera.project(p).unwrap());
    let empty = Empty {
        frame: FrameIndex(0),
        picture: court(camera, painted),
        hidden: vec![false; (SIZE.0 * SIZE.1) as usize],
        player: Some(player),
    };
    let standing = Standing::unknown(player[0], player[1]);
    (read(&empty, Some(standing), &Assumptions::of_size(SIZE)), player[0])
}

#[test]
fn the_camera_over_a_painted_court_is_read_back() {
    let truth = camera();
    let (reading, foot) = reading_of(&truth, true);
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
fn a_court_without_lines_tells_nothing() {
    let (reading, _) = reading_of(&camera(), false);
    assert!(matches!(reading.evidence, Evidence::Nothing(Silence::NoLines | Silence::NoCourt)));
    assert!(reading.fits.is_empty() && reading.best().is_none());
}
