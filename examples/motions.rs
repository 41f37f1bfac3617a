//! Writes followed motions as tables, for fitting what the model cards state about a pose model's body.
//!
//! `cargo run --release --example motions -- TRACKS OUT` reads what `score --keep TRACKS` has kept of each clip and writes the player's
//! motion to `OUT/NAME.csv`: one row per picture with its time and, for each landmark, `x,y` (pixels), visibility and the model's own
//! body `wx,wy,wz` (metres; empty where nothing was seen).

use std::error::Error;
use std::path::PathBuf;

use toeline::kept::Followed;
use toeline::pose::{Landmark, Motion};

fn main() -> Result<(), Box<dyn Error>> {
    let mut words = std::env::args().skip(1).map(PathBuf::from);
    let (Some(tracks), Some(out)) = (words.next(), words.next()) else {
        return Err("give the folder with kept tracks and the folder to write to".into());
    };
    std::fs::create_dir_all(&out)?;
    for entry in std::fs::read_dir(&tracks)? {
        let path = entry?.path();
        if path.extension().is_none_or(|e| e != "bin") {
            continue;
        }
        let (kept, _) = Followed::load_any(&path)?;
        // Several people may have been followed; the racket was looked for at the player's hands.
        let player = kept.rackets.keys().next().copied();
        let name = path.file_stem().unwrap_or_default();
        let Some(track) = player.and_then(|player| kept.tracks.get(player)) else {
            eprintln!("{}: left out, nobody was taken for the player", path.display());
            continue;
        };
        let mut table = csv::Writer::from_path(out.join(name).with_extension("csv"))?;
        write(&Motion::from_track(track), &mut table)?;
        table.flush()?;
    }
    Ok(())
}

fn write(motion: &Motion, table: &mut csv::Writer<std::fs::File>) -> Result<(), csv::Error> {
    let mut header = vec!["time_s".to_owned(), "width".into(), "height".into()];
    for landmark in Landmark::ALL {
        header.extend(["x", "y", "vis", "wx", "wy", "wz"].map(|c| format!("{}_{c}", landmark.name())));
    }
    table.write_record(&header)?;
    for (i, time) in motion.times.iter().enumerate() {
        let mut row = vec![time.0.to_string(), motion.size.0.to_string(), motion.size.1.to_string()];
        for landmark in Landmark::ALL {
            let k = landmark as usize;
            match motion.points.get(i, k) {
                Some(p) => row.extend([p.at.x, p.at.y, p.visibility].map(|v| v.to_string())),
                None => row.extend([const { String::new() }; 3]),
            }
            match &motion.world[i] {
                Some(world) => row.extend(world[k].map(|v| v.to_string())),
                None => row.extend([const { String::new() }; 3]),
            }
        }
        table.write_record(&row)?;
    }
    Ok(())
}
