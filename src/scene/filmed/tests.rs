use super::*;
use crate::court::{Line, Reading};
use crate::pose::landmark::COUNT;
use crate::pose::{Joint, Landmark, Side};
use crate::scene::depth::shortening;
use crate::scene::{Space, Teller, View};
use crate::units::{FrameIndex, Seconds};

const SIZE: (u32, u32) = (1280, 720);
const STATURE: f64 = 1.8;

fn ground_seen_by(stand: &Stand, height: f64, distance: f64) -> Ground {
    ground_under(stand, height, distance, 0.0)
}

/// A player who stands where a camera sees them, the right foot so much farther than the hips and the left one as much nearer, as a level
/// camera with a usual lens would have it.
fn ground_under(stand: &Stand, height: f64, distance: f64, stride: f64) -> Ground {
    let usual = Stand::level(Lens::usual(SIZE));
    let mut points = [None; COUNT];
    let mut put = |landmark: Landmark, [right, up, farther]: [f64; 3], scale: f64| {
        let point = crate::geometry::Camera::new(right, up - height, distance + farther);
        // The level camera has the same pixels in a plane at the distance at which the body has the same size.
        let ray = usual.ray(stand.pixel(point).unwrap());
        points[landmark as usize] = Some(ray * scale);
    };
    let hips = crate::geometry::Camera::new(0.0, 0.95 - height, distance);
    let [_, _, along] = stand.axes();
    // Seen from above the body looks shorter, and a level camera takes it to be farther away.
    let pixel = stand.pixel(hips).unwrap();
    let shorter = shortening(stand.ray(pixel)) / shortening(usual.ray(pixel));
    let scale = hips.dot(along) * usual.lens.focal / stand.lens.focal / shorter;
    for side in [Side::Left, Side::Right] {
        let sign = if side == Side::Left { -1.0 } else { 1.0 };
        put(Joint::Hip.on(side), [0.1 * sign, 0.95, 0.0], scale);
        // A sole is under its joints.
        let foot = [0.1 * sign, 0.03, stride * sign];
        put(Joint::Heel.on(side), foot, scale);
        put(Joint::Toe.on(side), foot, scale);
    }
    let n = 10;
    Ground::of(&Space {
        times: (0..n).map(|i| Seconds(i as f64 / 30.0)).collect(),
        rate: 30.0,
        points: vec![points; n].into(),
        visibility: vec![[1.0; COUNT]; n],
        depth_spread: vec![[0.1; COUNT]; n],
        stand: usual,
        size: SIZE,
        sway: Default::default(),
        scale: vec![Some(scale / usual.lens.focal); n],
        stature: Metres(STATURE),
        teller: Teller::Nothing,
        jitter: 0.003,
    })
}

fn known<'a>() -> Known<'a> {
    Known {
        lens: LensEvidence { size: SIZE, view: None, equivalent_mm: None },
        distance: None,
        height: None,
        stature: Some(Stature::given(Metres(STATURE))),
        lines: None,
        placed: None,
        uprights: None,
    }
}

fn fence() -> Stand {
    Stand { pitch: Degrees(-13.0), roll: Degrees(0.5), ..Stand::level(Lens::centred(SIZE, 1230.0)) }
}

#[test]
fn a_stated_height_tells_how_far_the_camera_looks_down() {
    let ground = ground_seen_by(&fence(), 3.0, 8.5);
    let view = Some(Lens::centred(SIZE, 1230.0).view(SIZE.0));
    let lens = LensEvidence { view, ..known().lens };
    let filmed = Filmed::of(&Known { lens, height: Some(Metres(3.0)), ..known() }, ground.clone());
    let (pitch, _) = filmed.pitch();
    assert!((pitch.value + 13.0).abs() < 1.0 && pitch.plus_minus < 3.0, "{pitch:?}");
    let (height, witness) = filmed.height().unwrap();
    assert!((height.value - 3.0).abs() < 0.15 && witness == Witness::Stated, "{height:?}");
    // Unstated it is open, and the ± says so.
    let open = Filmed::of(&Known { lens, ..known() }, ground).pitch().0;
    assert!(open.plus_minus > 4.0, "{open:?}");
}

#[test]
fn a_stated_distance_tells_the_lens() {
    let ground = ground_seen_by(&fence(), 3.0, 8.5);
    let of = |distance| Filmed::of(&Known { distance, ..known() }, ground.clone()).focal().0;
    let (open, told) = (of(None), of(Some(Metres(8.5))));
    assert!((told.value / 1230.0 - 1.0).abs() < 0.08 && told.plus_minus < 0.3 * open.plus_minus, "{told:?}");
}

#[test]
fn posts_tell_how_the_camera_was_tilted() {
    let stand = fence();
    let ground = ground_seen_by(&stand, 3.0, 8.5);
    let post = |right: f64| {
        let at = |up: f64| stand.pixel(crate::geometry::Camera::new(right, up, 20.0)).unwrap();
        court::Upright { top: at(-0.5), foot: at(-3.0) }
    };
    let edges = [-6.0, -3.5, -1.0, 1.5, 4.0, 6.5].map(post).to_vec();
    let uprights = court::Uprights { frame: FrameIndex(0), edges };
    let of = |uprights| Filmed::of(&Known { uprights, ..known() }, ground.clone());
    let (open, told) = (of(None), of(Some(&uprights)));
    let ((pitch, witness), (roll, _)) = (told.pitch(), told.roll());
    assert_eq!(witness, Witness::Uprights);
    assert!((pitch.value + 13.0).abs() < pitch.plus_minus, "{pitch:?}");
    assert!(pitch.plus_minus < 0.8 * open.pitch().0.plus_minus, "{pitch:?} {:?}", open.pitch());
    assert!((roll.value - 0.5).abs() < 0.7 && roll.plus_minus < 0.6 * open.roll().0.plus_minus, "{roll:?}");
}

#[test]
fn the_ground_is_where_both_feet_meet_it() {
    for (stand, height, distance) in [(fence(), 3.0, 8.5), (Stand::level(Lens::usual(SIZE)), 1.2, 5.0)] {
        for stride in [0.0, 0.4, -0.4] {
            let (high, far) = ground_under(&stand, height, distance, stride).stature_units(&stand).unwrap();
            let off = [high * STATURE - height, far * STATURE - distance];
            assert!(off[0].abs() < 0.02 && off[1].abs() < 0.02, "{stride}: {off:?}");
        }
    }
}

/// What a baseline tells of the camera of [`fence`], with the net at so many degrees and the lens so many metres over the ground.
fn baseline_seen(net: f64, height: f64) -> Reading {
    let stand = fence();
    let camera = court::Camera {
        focal: stand.lens.focal,
        k1: 0.0,
        centre: Point2::new(stand.lens.middle.0, stand.lens.middle.1),
        pitch: stand.pitch,
        roll: stand.roll,
        net: Degrees(net),
        height: Metres(height),
        x: Metres(6.0),
        y: Metres(-5.0),
    };
    let spread = [0.005, 0.002, 1.0, 1.0, 0.004, 0.002, 0.005, 0.004, 0.05, 0.05];
    Reading::of(&camera, spread, SIZE, Point2::new(640.0, 600.0), &[Line::Baseline])
}

#[test]
fn lines_tell_the_camera_and_the_stature() {
    let reading = baseline_seen(41.0, 3.0);
    let ground = ground_seen_by(&fence(), 3.0, 8.5);
    let known = Known { stature: None, lines: Some(&reading), ..known() };
    let mut filmed = Filmed::of(&known, ground);
    let stature = filmed.stature;
    assert!((stature.metres.0 - STATURE).abs() < 0.03, "{stature:?}");
    assert_eq!(stature.source, StatureSource::Lines);
    // What other clips of the player have shown changes nothing where the clip's own court tells it.
    let others = Stature::of_season(1.70, 1e-4);
    assert_eq!(
        Filmed::of(&Known { stature: Some(others), ..known }, ground_seen_by(&fence(), 3.0, 8.5)),
        filmed
    );
    let found = Direction { angle: Degrees(35.0), spread: Degrees(9.0), view: View::Diagonal };
    let direction = filmed.face(found, &[0.0; 360], &known).unwrap();
    assert!((direction.angle.0 - 41.0).abs() < 0.2 && direction.spread.0 < 0.5, "{direction:?}");
    assert!(filmed.draws.iter().all(|camera| (camera.net.0 - 41.0).abs() < 3.0));
    // Strokes that go elsewhere say that the lines were misread.
    let across = Direction { angle: Degrees(150.0), spread: Degrees(9.0), view: View::Diagonal };
    assert!(filmed.face(across, &[0.0; 360], &known).is_none() && filmed.court.is_none());
    let direction = filmed.face(across, &[0.0; 360], &known).unwrap();
    assert!((direction.angle.0 - 150.0).abs() < 1e-9, "{direction:?}");
}

/// A reading of the lines in which the net is at 41° to the camera of [`fence`], with a weight, and at 131° to one so much higher.
fn two_readings(weight: f64, higher: f64) -> Reading {
    let of = |net: f64, height: f64, weight: f64| {
        let mut reading = baseline_seen(net, height);
        reading.fits[0].weight = weight;
        reading
    };
    let (mut likely, other) = (of(41.0, 3.0, weight), of(131.0, 3.0 * higher, 1.0 - weight));
    likely.fits.extend(other.fits);
    likely.fits.sort_by(|a, b| b.weight.total_cmp(&a.weight));
    likely
}

#[test]
fn a_reading_that_makes_the_player_a_giant_allows_no_direction() {
    let reading = two_readings(0.6, 1.5);
    let known = Known { lines: Some(&reading), ..known() };
    let filmed = Filmed::of(&known, ground_seen_by(&fence(), 3.0, 8.5));
    let bearings = filmed.bearings(&known).unwrap();
    let elsewhere = |angle: Degrees| wrapped(angle.0 - 41.0).abs() > SAME_WAY;
    let wrong: f64 = bearings.iter().filter(|(_, angle, _)| elsewhere(*angle)).map(|(share, ..)| share).sum();
    assert!(bearings.iter().any(|(share, ..)| *share > 0.99) && wrong < 1e-6, "{bearings:?}");
}

#[test]
fn lines_whose_likeliest_direction_can_not_be_were_misread() {
    let reading = two_readings(0.1, 1.5);
    let known = Known { lines: Some(&reading), ..known() };
    assert_eq!(Filmed::of(&known, ground_seen_by(&fence(), 3.0, 8.5)).court, None);
}

#[test]
fn a_stature_that_other_clips_have_shown_narrows_the_scale() {
    let of = |stature| Filmed::of(&Known { stature, ..known() }, ground_seen_by(&fence(), 3.0, 8.5));
    let season = Stature::of_season(1.62, 5e-4);
    let [assumed, shown, given] = [None, Some(season), Some(Stature::given(season.metres))].map(of);
    assert_eq!((shown.stature, shown.scale), (season, season.metres));
    let scatter = |filmed: &Filmed| {
        let off = filmed.draws.iter().map(|camera| (camera.stature.0 - filmed.scale.0).powi(2));
        (off.sum::<f64>() / filmed.draws.len() as f64).sqrt()
    };
    let scatters = [given, shown, assumed].each_ref().map(scatter);
    assert!(scatters.is_sorted() && 2.0 * scatters[0] < scatters[2], "{scatters:?}");
}
