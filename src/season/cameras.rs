//! Two cameras on the same strokes of a season: counted once, each number from the camera that sees it better.

use super::gather::{Clip, Columns};
use crate::measure::pair::{self, Matching, Origin};
use crate::measure::{CATALOGUE, Measure, Measurement};
use crate::table::{Cell, measures, strokes};

/// Clips that nobody calls a pair are one where the contacts of others would fit as well less often than this.
const UNLIKELY: f64 = 0.01;

/// Finds the clips of the same strokes: `season.csv` says so, or player, day and drill are the same, the views differ, and the times of
/// contact fit. What the second camera sees better goes into the first one's rows, and the second one's rows of these strokes go.
pub(super) fn join(clips: &mut [Clip]) {
    let (of_stroke, of_measure) = (Columns::of(&strokes::sheet()), Columns::of(&measures::sheet()));
    let mut free = vec![true; clips.len()];
    let calling = (0..clips.len()).filter(|a| clips[*a].about.line.and.is_some());
    let stated = calling.flat_map(|a| (0..clips.len()).map(move |b| (a, b)));
    let stated: Vec<(usize, usize)> = stated.filter(|(a, b)| calls_second(&clips[*a], &clips[*b])).collect();
    let others = (0..clips.len()).flat_map(|a| (a + 1..clips.len()).map(move |b| (a, b)));
    let others: Vec<(usize, usize)> =
        others.filter(|(a, b)| are_of_one_session(&clips[*a], &clips[*b])).collect();
    for (place, (a, b)) in stated.iter().chain(&others).copied().enumerate() {
        let is_stated = place < stated.len();
        if !free[a] || !free[b] {
            continue;
        }
        let [times, other_times] = [a, b].map(|place| contacts(&clips[place], &of_stroke));
        match pair::by_times(&times, &other_times) {
            Ok(matching) if is_stated || matching.chance(&times, &other_times) < UNLIKELY => {
                (free[a], free[b]) = (false, false);
                if let Ok([first, second]) = clips.get_disjoint_mut([a, b]) {
                    combine(first, second, &matching, (&of_stroke, &of_measure));
                }
            }
            Err(why) if is_stated => {
                let note = format!("not joined with {}: {}", clips[b].about.line.file, why.words());
                clips[a].about.cameras = Some(note);
            }
            Ok(_) | Err(_) => {}
        }
    }
}

/// Whether the table calls a clip another's second camera, by its path or its name.
fn calls_second(first: &Clip, second: &Clip) -> bool {
    let file = second.about.line.file.as_str();
    let name = file.rsplit('/').next().unwrap_or(file);
    let named = first.about.line.and.as_deref();
    file != first.about.line.file && named.is_some_and(|named| named == file || named == name)
}

/// Whether two clips are of one player, day and drill, and from different sides.
fn are_of_one_session(first: &Clip, second: &Clip) -> bool {
    let (Some(a), Some(b)) = (first.values.first(), second.values.first()) else { return false };
    let is_known = !a.player.is_empty() && !a.date.is_empty();
    is_known && (&a.player, &a.date, &a.drill) == (&b.player, &b.date, &b.drill) && a.view != b.view
}

/// When the strokes meet the ball, seconds since the clip's first frame.
fn contacts(clip: &Clip, of_stroke: &Columns) -> Vec<f64> {
    let read = |row: &Vec<Cell>| of_stroke.text(row, "contact_s").parse().ok();
    clip.strokes.iter().map(read).collect::<Option<_>>().unwrap_or_default()
}

/// Joins the rows of two clips of the same strokes.
fn combine(first: &mut Clip, second: &mut Clip, matching: &Matching, columns: (&Columns, &Columns)) {
    let is_same = |(a, b): &&(usize, usize)| first.values[*a].kind == second.values[*b].kind;
    let pairs: Vec<(usize, usize)> = matching.pairs.iter().filter(is_same).copied().collect();
    for &(a, b) in &pairs {
        for (place, measure) in CATALOGUE.iter().enumerate() {
            let (own, other) = (first.values[a].values[place], second.values[b].values[place]);
            let (value, method) = match pair::better(own, other) {
                None | Some((_, Origin::Own)) => continue,
                Some((value, Origin::Other)) => (value, format!("{} view", second.values[b].view)),
                Some((value, Origin::Both)) => (value, "both views".to_owned()),
            };
            first.values[a].values[place] = Some(value);
            write(first, (a, place), (measure, value), &method, columns);
        }
    }
    let others = second.about.line.file.clone();
    first.about.cameras = Some(format!("{} strokes joined with those of {others}", pairs.len()));
    second.about.cameras = Some(format!("{} strokes are counted in {}", pairs.len(), first.about.line.file));
    let stays = |stroke: usize| pairs.iter().all(|(_, b)| *b != stroke);
    let per_stroke = CATALOGUE.len();
    second.strokes = kept(&mut second.strokes, stays);
    second.measures = kept(&mut second.measures, |row| stays(row / per_stroke));
    second.values = kept(&mut second.values, stays);
}

/// Writes a value into the rows of a stroke: `(stroke, measure)` are its places.
fn write(
    clip: &mut Clip,
    (stroke, place): (usize, usize),
    (measure, value): (&Measure, Measurement),
    method: &str,
    (of_stroke, of_measure): (&Columns, &Columns),
) {
    let height_cm: Option<f64> = of_stroke.text(&clip.strokes[stroke], "height_cm").parse().ok();
    let number = Cell::Number(measure.format(value.value));
    if let Some(column) = of_stroke.place(measure.id) {
        clip.strokes[stroke][column] = number.clone();
    }
    let heights = height_cm.filter(|_| measure.is_length()).map(|height| value.value / height);
    let cells = [
        ("value", number),
        ("value_bh", Cell::maybe_number(heights, 4)),
        ("plus_minus", Cell::Number(measure.format_plus_minus(value.plus_minus))),
        ("grade", Cell::text(value.grade.name())),
        ("method", Cell::text(method)),
        ("reason", Cell::Empty),
    ];
    let row = &mut clip.measures[stroke * CATALOGUE.len() + place];
    for (column, cell) in cells {
        if let Some(column) = of_measure.place(column) {
            row[column] = cell;
        }
    }
}

/// Those of some rows that stay, by their places.
fn kept<T>(rows: &mut Vec<T>, stays: impl Fn(usize) -> bool) -> Vec<T> {
    std::mem::take(rows)
        .into_iter()
        .enumerate()
        .filter(|(place, _)| stays(*place))
        .map(|(_, row)| row)
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::measure::Grade;
    use crate::season::State;
    use crate::season::gather::{ClipLine, GatheredClip, GatheredStroke};

    const TIMES: [f64; 6] = [2.0, 5.1, 7.6, 11.9, 14.2, 18.8];

    /// A clip of strokes at some times, with one measure and its grade.
    fn clip(file: &str, view: &str, times: &[f64], (value, grade): (f64, Grade), and: Option<&str>) -> Clip {
        let (of_stroke, of_measure) = (strokes::sheet(), measures::sheet());
        let line = ClipLine {
            file: file.to_owned(),
            player: Some("P01".to_owned()),
            date: Some("2025-06-14".to_owned()),
            drill: None,
            state: State::Measured,
            folder: Default::default(),
            and: and.map(str::to_owned),
        };
        let mut clip = Clip {
            strokes: Vec::new(),
            measures: Vec::new(),
            values: Vec::new(),
            about: GatheredClip { line, strokes: times.len(), about: None, cameras: None, stature: None },
        };
        for time in times {
            let mut row = vec![Cell::Empty; of_stroke.header().len()];
            let columns = Columns::of(&of_stroke);
            row[columns.place("contact_s").unwrap()] = Cell::number(*time, 3);
            row[columns.place("height_cm").unwrap()] = Cell::number(180.0, 0);
            clip.strokes.push(row);
            clip.measures.extend(vec![vec![Cell::Empty; of_measure.header().len()]; CATALOGUE.len()]);
            let mut values = vec![None; CATALOGUE.len()];
            values[0] = Some(Measurement { value, plus_minus: 1.0, grade });
            clip.values.push(GatheredStroke {
                player: "P01".to_owned(),
                date: "2025-06-14".to_owned(),
                drill: String::new(),
                view: view.to_owned(),
                kind: "forehand".to_owned(),
                values,
            });
        }
        clip
    }

    fn shifted(times: &[f64]) -> Vec<f64> {
        times.iter().map(|time| time + 3.2).collect()
    }

    #[test]
    fn strokes_that_two_cameras_saw_are_counted_once_with_the_better_numbers() {
        let others = shifted(&TIMES);
        let mut clips = [
            clip("a.mp4", "side", &TIMES, (10.0, Grade::Low), None),
            clip("b.mp4", "back", &others, (20.0, Grade::Good), None),
        ];
        join(&mut clips);
        let [first, second] = &clips;
        assert_eq!(
            (first.values.len(), second.values.len(), second.strokes.len(), second.measures.len()),
            (6, 0, 0, 0)
        );
        assert!(first.values.iter().all(|stroke| stroke.values[0].unwrap().value == 20.0));
        let (of_stroke, of_measure) = (Columns::of(&strokes::sheet()), Columns::of(&measures::sheet()));
        let row = &first.measures[5 * CATALOGUE.len()];
        assert_eq!(of_measure.text(row, "method"), "back view");
        assert_eq!(of_measure.text(row, "grade"), "good");
        let number = of_stroke.text(&first.strokes[5], CATALOGUE[0].id);
        assert!(number.parse::<f64>().unwrap() == 20.0 && number == of_measure.text(row, "value"));
        assert!(second.about.cameras.as_deref().unwrap().contains("counted in a.mp4"));
    }

    #[test]
    fn strokes_that_may_be_others_stay_unless_the_table_calls_them_the_same() {
        let even: Vec<f64> = (0..3).map(|i| 3.0 * f64::from(i) + [0.0, 0.2, 0.0][i as usize]).collect();
        for (and, left) in [(None, 3), (Some("b.mp4"), 0)] {
            let mut clips = [
                clip("P01/a.mp4", "side", &even, (10.0, Grade::Good), and),
                clip("P01/b.mp4", "back", &shifted(&even), (20.0, Grade::Good), None),
            ];
            join(&mut clips);
            assert_eq!((clips[0].values.len(), clips[1].values.len()), (3, left), "{and:?}");
        }
        // Two sessions from one side are never joined by themselves.
        let mut clips = ["a.mp4", "b.mp4"].map(|file| clip(file, "side", &TIMES, (10.0, Grade::Good), None));
        join(&mut clips);
        assert!(clips.iter().all(|clip| clip.values.len() == 6));
    }

    #[test]
    fn a_pair_that_does_not_fit_says_so() {
        let mut clips = [
            clip("a.mp4", "side", &TIMES, (10.0, Grade::Good), Some("b.mp4")),
            clip("b.mp4", "back", &[1.0, 1.9, 7.7, 9.0, 16.0, 30.0], (20.0, Grade::Good), None),
        ];
        join(&mut clips);
        assert_eq!(clips[1].values.len(), 6);
        assert!(clips[0].about.cameras.as_deref().unwrap().starts_with("not joined with b.mp4"));
    }
}
