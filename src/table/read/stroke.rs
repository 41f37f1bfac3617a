//! `strokes.csv` and `measures.csv`, read back.

use std::collections::HashMap;
use std::path::Path;

use super::rows::Table;
use super::{ReadClip, ReadError, Recorded};
use crate::measure::{CATALOGUE, Grade, Measure, Measurement};
use crate::stroke::Sort;
use crate::targets::{Circumstances, Observed};

/// A stroke as the tables hold it.
#[derive(Debug, Clone, PartialEq)]
pub struct ReadStroke {
    /// Place of its clip in [`Recorded::clips`].
    pub source: usize,
    /// Its clip's name.
    pub clip: String,
    /// Its number in the clip.
    pub number: usize,
    /// The player's code.
    pub player: Option<String>,
    /// The day, `YYYY-MM-DD`.
    pub date: Option<String>,
    /// How the ball came.
    pub drill: Option<String>,
    /// Its kind.
    pub kind: String,
    /// The hitting hand.
    pub hand: String,
    /// How many hands held the racket, where the table says so.
    pub hands: Option<usize>,
    /// Whether the ball was taken out of the air.
    pub volley: bool,
    /// From where the camera looked.
    pub view: String,
    /// How the feet stood.
    pub stance: Option<String>,
    /// One value per entry of the catalogue, in its order; `None` where it is missing.
    pub values: Vec<Option<Measurement>>,
    /// The reasons of missing values, in the same order.
    pub reasons: Vec<Option<String>>,
}

impl ReadStroke {
    /// Which strokes it is judged with.
    pub fn sort(&self) -> Sort {
        Sort::named(&self.kind, self.volley)
    }

    /// Under what circumstances it was hit; the grip is its clip's.
    pub fn circumstances<'a>(&'a self, grip: Option<&'a str>) -> Circumstances<'a> {
        Circumstances {
            kind: self.sort().name(),
            stance: self.stance.as_deref(),
            grip,
            drill: self.drill.as_deref(),
        }
    }

    /// The stroke as targets judge it.
    pub fn observed<'a>(&'a self, grip: Option<&'a str>) -> Observed<'a> {
        Observed { circumstances: self.circumstances(grip), values: self.values.clone() }
    }
}

/// Reads both tables of a folder. `note` is what is known of its clip, if it is one clip's folder.
pub fn read(folder: &Path, note: &Option<ReadClip>, all: &mut Recorded) -> Result<(), ReadError> {
    let mut places: HashMap<(String, usize), usize> = HashMap::new();
    let mut table = Table::open(folder.join("strokes.csv"))?;
    while let Some(row) = table.next_row()? {
        let clip = row.need("clip")?;
        let number = row.whole("stroke")?;
        let height = row.number("height_cm")?.zip(row.text("scale_source").map(|source| source == "given"));
        let source = match all.clips.iter().position(|known| known.file == clip) {
            Some(place) => place,
            None => {
                let known = note.clone().filter(|note| note.file == clip);
                let unknown = || ReadClip { file: clip.clone(), height_cm: height, ..ReadClip::default() };
                all.clips.push(known.unwrap_or_else(unknown));
                all.clips.len() - 1
            }
        };
        places.insert((clip.clone(), number), all.strokes.len());
        all.strokes.push(ReadStroke {
            source,
            clip,
            number,
            player: row.text("player"),
            date: row.text("date"),
            drill: row.text("drill"),
            kind: row.need("kind")?,
            hand: row.need("hand")?,
            hands: row.text("hands").is_some().then(|| row.whole("hands")).transpose()?,
            volley: row.text("volley").is_some(),
            view: row.need("view")?,
            stance: row.text("stance_kind"),
            values: vec![None; CATALOGUE.len()],
            reasons: vec![None; CATALOGUE.len()],
        });
    }
    let mut table = Table::open(folder.join("measures.csv"))?;
    while let Some(row) = table.next_row()? {
        let key = (row.need("clip")?, row.whole("stroke")?);
        let id = row.need("measure")?;
        // A measure of a later version is none of ours.
        let Some(measure) = Measure::place(&id) else { continue };
        let Some(stroke) = places.get(&key).map(|place| &mut all.strokes[*place]) else {
            return Err(row.wrong(format!("stroke {} of {} is not in strokes.csv", key.1, key.0)));
        };
        stroke.reasons[measure] = row.text("reason");
        let Some(value) = row.number("value")? else { continue };
        let plus_minus = row.number("plus_minus")?.ok_or_else(|| row.wrong("a value has no ±".to_owned()))?;
        let grade = row.need("grade")?;
        let grade = [Grade::Good, Grade::Fair, Grade::Low]
            .into_iter()
            .find(|known| known.name() == grade)
            .ok_or_else(|| row.wrong(format!("`{grade}` is no grade")))?;
        stroke.values[measure] = Some(Measurement { value, plus_minus, grade });
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn tables(strokes: &str, measures: &str) -> tempfile::TempDir {
        let place = tempfile::tempdir().unwrap();
        std::fs::write(place.path().join("strokes.csv"), strokes).unwrap();
        std::fs::write(place.path().join("measures.csv"), measures).unwrap();
        place
    }

    const STROKES: &str = "clip,stroke,player,date,drill,kind,hand,view,stance_kind,height_cm,scale_source\r\n\
                           '=a.mp4,1,'@P01,2025-06-14,,forehand,right,side,open,182,given\r\n";

    #[test]
    fn what_was_written_is_read() {
        let place = tables(
            STROKES,
            "clip,stroke,measure,value,plus_minus,grade,reason\r\n\
             '=a.mp4,1,stance_width_cm,56,8,good,\r\n\
             '=a.mp4,1,step_length_cm,,,,hidden\r\n\
             '=a.mp4,1,of_a_later_version,1,1,good,\r\n",
        );
        let all = Recorded::at(place.path()).unwrap();
        let stroke = &all.strokes[0];
        assert_eq!((stroke.clip.as_str(), stroke.player.as_deref()), ("=a.mp4", Some("@P01")));
        assert_eq!(all.clips[0].height_cm, Some((182.0, true)));
        let at = |id: &str| Measure::place(id).unwrap();
        assert_eq!(
            stroke.values[at("stance_width_cm")],
            Some(Measurement { value: 56.0, plus_minus: 8.0, grade: Grade::Good })
        );
        assert_eq!(stroke.reasons[at("step_length_cm")].as_deref(), Some("hidden"));
        assert_eq!(all, Recorded::at(&place.path().join("measures.csv")).unwrap());
    }

    #[test]
    fn decimal_commas_are_read() {
        let place = tables(
            &STROKES.replace(',', ";"),
            "\u{feff}clip;stroke;measure;value;plus_minus;grade;reason\r\n'=a.mp4;1;stance_width_cm;56,5;8,0;good;\r\n",
        );
        let all = Recorded::at(place.path()).unwrap();
        assert_eq!(all.strokes[0].values.iter().flatten().next().unwrap().value, 56.5);
    }

    #[test]
    fn damage_is_named_with_its_line() {
        const HEAD: &str = "clip,stroke,measure,value,plus_minus,grade,reason\r\n";
        for (rows, part) in [
            ("'=a.mp4,1,stance_width_cm,wide,8,good,\r\n", "line 2: value: `wide`"),
            ("'=a.mp4,1,stance_width_cm,NaN,8,good,\r\n", "is no number"),
            ("'=a.mp4,1,stance_width_cm,56,,good,\r\n", "has no ±"),
            ("'=a.mp4,1,stance_width_cm,56,8,fine,\r\n", "is no grade"),
            ("'=a.mp4,2,stance_width_cm,56,8,good,\r\n", "is not in strokes.csv"),
            ("'=a.mp4,1\r\n", "line"),
            // A line's end in quotes, and an empty line.
            (
                "'=a.mp4,1,of_a_later_version,1,1,good,\"a\r\nb\"\r\n\r\n'=a.mp4,1,stance_width_cm,wide,8,good,\r\n",
                "line 5: value",
            ),
        ] {
            let place = tables(STROKES, &format!("{HEAD}{rows}"));
            let error = Recorded::at(place.path()).unwrap_err().to_string();
            assert!(error.contains("measures.csv") && error.contains(part), "{error}");
        }
        let empty = tempfile::tempdir().unwrap();
        assert!(matches!(Recorded::at(empty.path()), Err(ReadError::NoResults(_))));
        assert!(matches!(Recorded::at(&empty.path().join("none")), Err(ReadError::Open { .. })));
    }
}
