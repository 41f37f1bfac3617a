//! OpenSim's TRC (tab-separated marker positions): X toward the net, Y up, Z to the right of a player who faces the net;
//! metres, the ground at Y = 0. Without a stroke the way to the net is not known; X is then to the right in the picture.

use std::fmt::Write;

use super::super::Results;
use crate::pose::{Landmark, Side};
use crate::scene::{CourtMotion, Direction};
use crate::units::Degrees;

/// The whole file.
pub fn text(results: &Results<'_>) -> String {
    let measures = results.measures;
    let direction = measures.direction.unwrap_or_else(|| Direction::at(Degrees(0.0)));
    let frames = measures.space.points.len();
    // The right hand's side is to the right of a player who faces the net, whichever hand hits.
    let motion = CourtMotion::new(&measures.space, &direction, Side::Right, 0..frames);
    let rate = measures.space.rate;
    let markers = Landmark::ALL.len();
    let mut text = format!(
        "PathFileType\t4\t(X/Y/Z)\t{}\n\
         DataRate\tCameraRate\tNumFrames\tNumMarkers\tUnits\tOrigDataRate\tOrigDataStartFrame\tOrigNumFrames\n\
         {rate:.2}\t{rate:.2}\t{frames}\t{markers}\tm\t{rate:.2}\t1\t{frames}\n\
         Frame#\tTime",
        super::Exchange::Trc.file()
    );
    for landmark in Landmark::ALL {
        text.push('\t');
        text.push_str(landmark.name());
        text.push_str("\t\t");
    }
    text.push_str("\n\t");
    for number in 1..=markers {
        // Writing into text doesn't fail.
        let _ = write!(text, "\tX{number}\tY{number}\tZ{number}");
    }
    text.push_str("\n\n");
    for (frame, (time, points)) in motion.times.iter().zip(&motion.points).enumerate() {
        let _ = write!(text, "{}\t{:.4}", frame + 1, time.0);
        for point in points {
            match point {
                Some(p) => {
                    let _ = write!(text, "\t{:.4}\t{:.4}\t{:.4}", p.net, p.up, p.side);
                }
                // An empty cell is a marker that was not seen.
                None => text.push_str("\t\t\t"),
            }
        }
        text.push('\n');
    }
    text
}
