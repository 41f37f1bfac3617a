//! How tall a player is, from all clips of the season in which the court tells it, for those in which nothing does.
//!
//! Unknown are the stature on the day of the clip that asks and how fast the player grows. Each session says the stature on its own day;
//! both follow by least squares with what players usually are and how they usually grow.

use std::collections::BTreeMap;

use crate::scene::{Stature, StatureSource};
use crate::stats::TWO_SIDED_95;
use crate::table::notes::height_cm;
use crate::units::{Metres, day_number};

/// Adults don't grow, children five to eight centimetres a year: metres a year (1 standard deviation).
const GROWTH: f64 = 0.03;

/// A clip without a date was filmed so many years from any other, for all that is known (1 standard deviation).
const UNDATED: f64 = 1.0;

/// Two statures that differ by more than so many standard deviations contradict each other.
const CONTRADICT: f64 = 3.0;

/// Of a player's statures at least this share must agree.
const AGREE: f64 = 0.75;

/// A player's height as `clip.json` has it.
#[derive(Debug, Clone, PartialEq)]
pub struct Height {
    /// The height, cm.
    pub cm: f64,
    /// Half width of its 95 % interval, cm.
    pub plus_minus_cm: f64,
    /// What it rests on, as a word.
    pub source: String,
}

impl Height {
    /// What `clip.json` will say of a stature.
    pub fn of(stature: Stature) -> Self {
        let (cm, plus_minus_cm) = height_cm(&stature);
        Self { cm, plus_minus_cm, source: stature.source.name().to_owned() }
    }

    /// The stature, where the clip's court told it.
    fn by_court(&self) -> Option<Stature> {
        let source = StatureSource::ALL.into_iter().find(|source| source.name() == self.source)?;
        let spread = self.plus_minus_cm / (TWO_SIDED_95 * self.cm);
        Some(Stature { metres: Metres(self.cm / 100.0), spread, source }).filter(Stature::is_by_court)
    }

    /// Whether nothing has told it.
    pub fn is_assumed(&self) -> bool {
        self.source == StatureSource::Assumed.name()
    }

    /// Whether a clip has to be measured again, because the season knows its player's stature otherwise.
    pub fn is_behind(&self, season: Option<Stature>) -> bool {
        if self.source == StatureSource::Season.name() {
            season.map(Self::of).as_ref() != Some(self)
        } else {
            self.is_assumed() && season.is_some()
        }
    }
}

/// What a clip says of its player's stature.
#[derive(Debug, Clone, Copy)]
pub struct Told<'a> {
    /// The clip.
    pub file: &'a str,
    /// The player's code; clips without one are nobody's.
    pub player: Option<&'a str>,
    /// The day.
    pub date: Option<&'a str>,
    /// The height.
    pub height: &'a Height,
}

/// The players' statures.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Statures(BTreeMap<String, Result<Vec<Session>, String>>);

/// What the court has told of a player on one day.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Session {
    /// The day's number.
    day: Option<f64>,
    metres: f64,
    variance: f64,
}

impl Statures {
    /// What the clips of a season say together.
    pub fn of<'a>(clips: impl IntoIterator<Item = Told<'a>>) -> Self {
        let mut players: BTreeMap<&str, Vec<(Told<'_>, Session)>> = BTreeMap::new();
        for told in clips {
            if let Some((player, stature)) = told.player.zip(told.height.by_court()) {
                let (metres, variance) = stature.by_court_alone();
                let session = Session { day: told.date.and_then(day_number), metres, variance };
                players.entry(player).or_default().push((told, session));
            }
        }
        Self(players.into_iter().map(|(player, told)| (player.to_owned(), agreed(told))).collect())
    }

    /// A player's stature on a day; `None` where no clip tells it, or clips contradict one another.
    pub fn on(&self, player: Option<&str>, date: Option<&str>) -> Option<Stature> {
        let sessions = self.0.get(player?)?.as_ref().ok()?;
        let day = date.and_then(day_number);
        let last = sessions.iter().filter_map(|session| session.day).reduce(f64::max);
        let asked = day.or(last).unwrap_or(0.0);
        // Normal equations of stature on that day and growth a year.
        let told = sessions.iter().map(|session| session.metres).sum::<f64>() / sessions.len().max(1) as f64;
        let (usual, of_usual) = Stature::usual(told);
        let mut normal = [[1.0 / of_usual, 0.0], [0.0, 1.0 / GROWTH.powi(2)]];
        let mut right = [usual / of_usual, 0.0];
        for session in sessions {
            let years = session.day.map_or(0.0, |day| (day - asked) / DAYS_IN_YEAR);
            let weight = 1.0 / (session.variance + if session.day.is_none() { OPEN } else { 0.0 });
            normal[0][0] += weight;
            normal[0][1] += weight * years;
            normal[1][1] += weight * years * years;
            right[0] += weight * session.metres;
            right[1] += weight * years * session.metres;
        }
        let determinant = normal[0][0] * normal[1][1] - normal[0][1].powi(2);
        let metres = (right[0] * normal[1][1] - right[1] * normal[0][1]) / determinant;
        let variance = normal[1][1] / determinant + if day.is_none() { OPEN } else { 0.0 };
        Some(Stature::of_season(metres, variance))
    }

    /// Of a player whose clips contradict one another: how, as a sentence.
    pub fn contradiction(&self, player: Option<&str>) -> Option<&str> {
        self.0.get(player?)?.as_ref().err().map(String::as_str)
    }

    /// All players whose clips contradict one another, and how.
    pub fn contradictions(&self) -> impl Iterator<Item = (&str, &str)> {
        self.0.iter().filter_map(|(player, told)| Some((player.as_str(), told.as_ref().err()?.as_str())))
    }
}

const DAYS_IN_YEAR: f64 = 365.25;

/// Variance of a stature on an unknown day.
const OPEN: f64 = GROWTH * GROWTH * UNDATED * UNDATED;

/// The sessions of clips that agree, or how clips contradict one another.
fn agreed(told: Vec<(Told<'_>, Session)>) -> Result<Vec<Session>, String> {
    let others = told.len() - 1;
    let astray = |(_, one): &(Told<'_>, Session)| {
        2 * told.iter().filter(|(_, other)| one.contradicts(other)).count() > others
    };
    let kept: Vec<Session> = told.iter().filter(|one| !astray(one)).map(|(_, session)| *session).collect();
    if (kept.len() as f64) < AGREE * told.len() as f64 {
        let heights = told.iter().map(|(told, _)| told);
        let tall = |a: &&Told<'_>, b: &&Told<'_>| a.height.cm.total_cmp(&b.height.cm);
        let ends = [heights.clone().min_by(tall), heights.max_by(tall)];
        let words =
            ends.into_iter().flatten().map(|told| format!("{:.0} cm in {}", told.height.cm, told.file));
        return Err(format!(
            "the court shows the player of different heights ({}), so none is kept for other clips; see whether it is one \
             player, or give the height in season.csv or toeline.toml",
            words.collect::<Vec<_>>().join(", ")
        ));
    }
    let mut days: BTreeMap<Option<i64>, Vec<Session>> = BTreeMap::new();
    for session in kept {
        days.entry(session.day.map(|day| day as i64)).or_default().push(session);
    }
    Ok(days.values().map(|day| Session::together(day)).collect())
}

impl Session {
    fn contradicts(&self, other: &Self) -> bool {
        let years = self.day.zip(other.day).map_or(UNDATED, |(a, b)| (a - b) / DAYS_IN_YEAR);
        let variance = self.variance + other.variance + (GROWTH * years).powi(2);
        (self.metres - other.metres).abs() > CONTRADICT * variance.sqrt()
    }

    /// Clips of one day: their camera stands where it stood, so that they are no surer together than the surest of them.
    fn together(clips: &[Self]) -> Self {
        let weights: f64 = clips.iter().map(|clip| 1.0 / clip.variance).sum();
        let metres = clips.iter().map(|clip| clip.metres / clip.variance).sum::<f64>() / weights;
        let variance = clips.iter().map(|clip| clip.variance).fold(f64::INFINITY, f64::min);
        Self { day: clips.first().and_then(|clip| clip.day), metres, variance }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn height(cm: f64, plus_minus_cm: f64, source: StatureSource) -> Height {
        Height { cm, plus_minus_cm, source: source.name().to_owned() }
    }

    /// Statures of clips by the court: day, cm and ±.
    fn season(clips: &[(Option<&str>, f64, f64)]) -> Statures {
        let heights: Vec<Height> =
            clips.iter().map(|(_, cm, within)| height(*cm, *within, StatureSource::Lines)).collect();
        let told = clips.iter().zip(&heights);
        Statures::of(told.map(|((date, ..), height)| Told {
            file: "a.mp4",
            player: Some("P01"),
            date: *date,
            height,
        }))
    }

    fn on(season: &Statures, date: Option<&str>) -> Height {
        Height::of(season.on(Some("P01"), date).unwrap())
    }

    const DAY: Option<&str> = Some("2025-06-14");

    #[test]
    fn a_clip_alone_gives_what_it_has_told() {
        let one = season(&[(DAY, 168.0, 8.4)]);
        let found = on(&one, DAY);
        assert!((found.cm - 168.0).abs() < 0.5 && (found.plus_minus_cm - 8.4).abs() < 0.4, "{found:?}");
        assert_eq!(found.source, "season");
        assert_eq!((one.on(Some("P02"), DAY), one.on(None, DAY)), (None, None));
    }

    #[test]
    fn sessions_together_tell_more_than_clips_of_one_day_but_never_all() {
        let alone = on(&season(&[(DAY, 168.0, 8.4)]), DAY).plus_minus_cm;
        let of_day = on(&season(&[(DAY, 168.0, 8.4); 4]), DAY).plus_minus_cm;
        let days = ["2025-06-02", "2025-06-07", "2025-06-10", "2025-06-14"];
        let of_days = on(&season(&days.map(|day| (Some(day), 168.0, 8.4))), DAY).plus_minus_cm;
        assert_eq!(of_day, alone);
        assert!(of_days < 0.85 * alone, "{of_days} {alone}");
        let many: Vec<_> = (1..29).map(|day| format!("2025-06-{day:02}")).collect();
        let many: Vec<_> = many.iter().map(|day| (Some(day.as_str()), 168.0, 8.4)).collect();
        // The model's idea of this body is in all of them.
        assert!(on(&season(&many), DAY).plus_minus_cm > 4.5);
    }

    #[test]
    fn what_players_usually_are_counts_once_however_many_clips_there_are() {
        let days = ["2025-06-02", "2025-06-07", "2025-06-10", "2025-06-14"];
        // Each clip alone says less than it would without knowing how tall players usually are.
        let found = on(&season(&days.map(|day| (Some(day), 160.0, 10.5))), DAY);
        assert!(found.cm < 159.0, "{found:?}");
    }

    #[test]
    fn a_child_may_have_grown_since() {
        let once = season(&[(DAY, 140.0, 7.5)]);
        let [soon, later, undated] = [Some("2025-07-14"), Some("2027-06-14"), None].map(|day| on(&once, day));
        assert!(soon.plus_minus_cm < on(&once, DAY).plus_minus_cm + 0.3, "{soon:?}");
        assert!(later.plus_minus_cm > soon.plus_minus_cm + 4.0, "{later:?}");
        assert!(undated.plus_minus_cm > soon.plus_minus_cm + 1.0, "{undated:?}");
        // Two years that show it tell how fast, and the next clip is of that.
        let growing = season(&[(Some("2023-06-14"), 140.0, 6.0), (Some("2025-06-14"), 152.0, 6.0)]);
        let between = on(&growing, Some("2024-06-14"));
        assert!(between.cm > 143.0 && between.cm < 150.0, "{between:?}");
        assert!(on(&growing, Some("2025-06-14")).cm > between.cm + 1.0);
    }

    #[test]
    fn clips_that_contradict_one_another_tell_nothing() {
        let two = season(&[(DAY, 160.0, 7.4), (DAY, 185.0, 7.4)]);
        assert_eq!(two.on(Some("P01"), DAY), None);
        let words = two.contradiction(Some("P01")).unwrap();
        assert!(words.contains("cm in a.mp4") && words.contains("toeline.toml"), "{words}");
        assert_eq!(two.contradictions().count(), 1);
        let three = season(&[(DAY, 170.0, 7.4), (DAY, 171.0, 7.4), (DAY, 199.0, 7.4)]);
        assert!(three.contradiction(Some("P01")).unwrap().contains("170 cm in a.mp4, 199 cm in a.mp4"));
        // One of many was misread.
        let most = season(&[(DAY, 170.0, 7.4), (DAY, 171.0, 7.4), (DAY, 172.0, 7.4), (DAY, 199.0, 7.4)]);
        assert!((on(&most, DAY).cm - 170.6).abs() < 1.5 && most.contradictions().count() == 0);
        // What ± explains is no contradiction.
        assert!(season(&[(DAY, 168.0, 9.0), (DAY, 178.0, 9.0)]).on(Some("P01"), DAY).is_some());
    }

    #[test]
    fn a_clip_is_behind_when_the_season_knows_otherwise() {
        let stature = Stature::of_season(1.7, 5e-4);
        let (known, now) = (Some(stature), Height::of(stature));
        let before = Height { cm: now.cm + 0.1, ..now.clone() };
        assert!(!now.is_behind(known) && before.is_behind(known) && now.is_behind(None));
        let of = |source| height(175.0, 18.9, source);
        assert!(of(StatureSource::Assumed).is_behind(known) && !of(StatureSource::Assumed).is_behind(None));
        assert!(!of(StatureSource::Given).is_behind(known) && !of(StatureSource::Lines).is_behind(known));
        // Only what a court has told in its own clip is handed on.
        for source in [StatureSource::Given, StatureSource::Season, StatureSource::Assumed] {
            assert_eq!(of(source).by_court(), None);
        }
    }
}
