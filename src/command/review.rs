//! `--review`: the page for the player, from a clip's results, its pictures, a coach's note and an earlier session.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::io::{self, Read};
use std::path::{Path, PathBuf};

use super::exit::Result;
use super::output;
use super::second::SecondView;
use crate::analyse::{Analyser, Observer};
use crate::compare::{self, Session};
use crate::draw::moment::{Instant, Lines, MOMENTS};
use crate::draw::still::{self, Role, Stills, index};
use crate::draw::{Chart, DrawError, capitalised};
use crate::measure::clip::MeasuredStroke;
use crate::measure::{Grade, Measure};
use crate::page::{Before, Image, Moments, Pair, Pictures, Review, Scaled};
use crate::stroke::Sort;
use crate::table::read::is_result;
use crate::table::{ReadError, ReadStroke, Recorded, Results, TableError};
use crate::targets::{self, Finding};
use crate::video::Picture;

/// The file of the page.
const FILE: &str = "review.html";

/// The file of the sheet for the court.
const CARD: &str = "card.html";

/// No more than so many moments are set beside each other.
const MOST_PAIRS: usize = 3;

/// A note longer than this (bytes) is some other file.
const LONGEST_NOTE: u64 = 64 * 1024;

/// The coach's note can't be used. Commands end with exit code 3 on it.
#[derive(Debug, thiserror::Error)]
pub enum NoteError {
    /// It can't be read.
    #[error("{path}: cannot be read ({source}); check the name given with --note", path = .0.display(), source = .1)]
    Read(PathBuf, io::Error),
    /// It is no plain text.
    #[error("{path}: this is not plain text in UTF-8; save the note as a .txt file", path = .0.display())]
    NotText(PathBuf),
    /// It is too long.
    #[error("{path}: this is longer than 64 kB; a note for a player is a few paragraphs of plain text", path = .0.display())]
    TooLong(PathBuf),
}

/// What goes into the page besides the clip's results.
#[derive(Debug, Clone)]
pub struct Plan {
    /// Whether `review.html` is written.
    pub page: bool,
    /// Whether the sheet for the court is written.
    pub card: bool,
    note: Option<String>,
    before: Option<Earlier>,
    targets: targets::Set,
}

/// Pictures of a second camera: of findings by kind and measure, of contact by kind with their captions.
#[derive(Debug, Default)]
pub struct OfSecond {
    of_findings: Vec<(Sort, &'static str, Image)>,
    contacts: Vec<(Sort, String, Image)>,
}

/// An earlier session.
#[derive(Debug, Clone)]
struct Earlier {
    session: Session,
    /// Its pictures; none where it was measured without stills.
    typical: Vec<Shown>,
}

impl Plan {
    /// Reads the note and the earlier session's tables: before the work, so that nobody waits for what can't be done.
    ///
    /// # Errors
    /// [`NoteError`], [`ReadError`].
    pub fn resolve(note: Option<&Path>, before: Option<&Path>, targets: &targets::Set) -> Result<Self> {
        Ok(Self {
            page: true,
            card: false,
            note: note.map(read_note).transpose()?,
            before: before.map(Earlier::read).transpose()?,
            targets: targets.clone(),
        })
    }

    /// Numbers of the clip's pictures that show the findings.
    pub fn pictures_needed(&self, results: &Results<'_>) -> BTreeSet<usize> {
        let findings = self.targets.for_height(results.height_cm()).findings(&results.observed());
        let shown = findings.iter().filter_map(|finding| {
            let (stroke, instant) = showing(finding, results)?;
            Some((&stroke.stroke, instant))
        });
        still::pictures_needed(results.motion, shown)
    }

    /// What the second camera shows for the page of a folder in which stills are already: of findings that it sees better, and
    /// contact of the most typical strokes.
    ///
    /// # Errors
    /// Those of its clip and of drawing.
    pub fn second(
        &self,
        folder: &Path,
        results: &Results<'_>,
        second: &SecondView,
        blur_faces: bool,
        analyser: &mut Analyser,
        observer: &mut dyn Observer,
    ) -> Result<OfSecond> {
        let strokes = &results.measures.strokes;
        let findings = self.targets.for_height(results.height_cm()).findings(&results.observed());
        let ids: Vec<[&'static str; 1]> = findings.iter().map(|finding| [finding.measure().id]).collect();
        let shown = findings.iter().zip(&ids).filter_map(|(finding, ids)| {
            let (stroke, instant) = showing(finding, results)?;
            Some((finding, second.showing(strokes, stroke.number, instant, ids)?))
        });
        let (findings, mut wanted): (Vec<_>, Vec<_>) = shown.unzip();
        let of_stroke = |number: usize| {
            strokes.iter().find(|stroke| stroke.number == number).map(|stroke| stroke.stroke.sort())
        };
        let mut typical: Vec<(Sort, usize)> =
            typical(folder, of_stroke)?.iter().map(|shown| (shown.sort, shown.stroke)).collect();
        typical.dedup();
        let contacts = typical.into_iter();
        let contacts = contacts.filter_map(|(sort, number)| Some((sort, second.contact(strokes, number)?)));
        let (sorts, contacts): (Vec<Sort>, Vec<_>) = contacts.unzip();
        wanted.extend(contacts);
        let seen = second.pictures(&wanted, blur_faces, analyser, observer)?;
        let mut images = wanted.iter().map(|wanted| second.still(wanted, &seen));
        let mut shown = OfSecond::default();
        for (finding, image) in findings.iter().zip(images.by_ref()) {
            let of = |image| (finding.middle.sort, finding.measure().id, image);
            shown.of_findings.extend(image?.map(of));
        }
        for (sort, image) in sorts.into_iter().zip(images) {
            shown.contacts.extend(image?.map(|image| (sort, second.caption(), image)));
        }
        Ok(shown)
    }

    /// Writes the page into a clip's folder, in which tables and stills are already. `seen` holds the clip's pictures that
    /// [`Plan::pictures_needed`] has asked for.
    ///
    /// # Errors
    /// Where the page can't be made or written.
    pub fn write(
        &self,
        folder: &Path,
        results: &Results<'_>,
        charts: &[Chart],
        seen: &BTreeMap<usize, Picture>,
        second: OfSecond,
        next_time: Option<&str>,
    ) -> Result<()> {
        let observed = results.observed();
        let targets = self.targets.for_height(results.height_cm());
        let findings = targets.findings(&observed);
        let met = targets.met(&observed);
        let few = targets.shown_by_few(&observed);
        let of_stroke = |number: usize| {
            let strokes = &results.measures.strokes;
            strokes.iter().find(|stroke| stroke.number == number).map(|stroke| stroke.stroke.sort())
        };
        let typical = typical(folder, of_stroke)?;
        let stills = Stills::new(results.motion, results.measures, seen);
        let mut of_findings = second.of_findings;
        for finding in &findings {
            // What the second camera sees better is shown by its picture.
            let has = |known: &(Sort, &str, Image)| {
                known.0 == finding.middle.sort && known.1 == finding.measure().id
            };
            if !of_findings.iter().any(has) {
                of_findings.extend(of_finding(finding, results, &stills)?);
            }
        }
        let mut moments = moments(&typical)?;
        for (sort, caption, image) in second.contacts {
            let of_sort = moments.iter_mut().find(|moments| moments.sort == sort);
            of_sort.into_iter().for_each(|moments| moments.pictures.push((caption.clone(), image.clone())));
        }
        let pictures = Pictures { of_findings, moments };
        let before = self
            .before
            .as_ref()
            .map(|earlier| self.set_beside(earlier, folder, results, &typical))
            .transpose()?;
        let review = Review {
            results,
            findings: &findings,
            met: &met,
            few: &few,
            note: self.note.as_deref(),
            pictures: &pictures,
            charts,
            next_time,
            before: before.as_ref(),
        };
        let write = |name: &str, text: String| {
            let path = folder.join(name);
            fs::write(&path, text).map_err(|source| TableError::Write { path, source })
        };
        if self.page {
            write(FILE, review.page()?)?;
        }
        if self.card {
            match review.card()? {
                Some(card) => write(CARD, card)?,
                None => output::note(&format!(
                    "{}: nothing lies clearly outside its target, so there is no {CARD}",
                    results.clip
                )),
            }
        }
        Ok(())
    }

    /// The earlier session beside this one, whose tables lie in the folder.
    fn set_beside(
        &self,
        earlier: &Earlier,
        folder: &Path,
        results: &Results<'_>,
        typical: &[Shown],
    ) -> Result<Before> {
        let name = dated(results.clip, results.labels.date.as_deref());
        let after = Session { name, recorded: Recorded::at(folder)? };
        let targets = self.targets.for_height(results.height_cm());
        let comparison = compare::compare(&earlier.session, &after, &Recorded::default(), &targets);
        let mut pairs: Vec<Pair> = Vec::new();
        for id in compare::telling::telling(&comparison) {
            let Some(moment) = Measure::find(id).map(Instant::of) else { continue };
            let kind = comparison.group.as_ref().map(|group| group.kind.as_str());
            let of = |side: &'_ [Shown]| {
                let mine = |shown: &&Shown| shown.instant == moment && Some(shown.sort.name()) == kind;
                side.iter().find(mine).cloned()
            };
            let Some((before, after)) = of(&earlier.typical).zip(of(typical)) else { continue };
            if pairs.len() < MOST_PAIRS && pairs.iter().all(|pair| pair.moment != after.caption) {
                pairs.push(Pair::of(&after.caption, &before.scaled, &after.scaled)?);
            }
        }
        Ok(Before { comparison, pairs })
    }
}

/// The stroke that shows a finding best, that with the value nearest to the median, and the moment at which it shows.
fn showing<'a>(finding: &Finding, results: &Results<'a>) -> Option<(&'a MeasuredStroke, Instant)> {
    let place = Measure::place(finding.measure().id)?;
    let apart = |stroke: &MeasuredStroke| {
        let found = stroke.measured.outcomes.get(place)?.ok().filter(|found| found.grade > Grade::Low)?;
        Some((found.value - finding.middle.median).abs())
    };
    let mine = results.measures.strokes.iter().filter(|stroke| stroke.stroke.sort() == finding.middle.sort);
    let strokes = mine.filter_map(|stroke| Some((stroke, apart(stroke)?)));
    let (stroke, _) = strokes.min_by(|a, b| a.1.total_cmp(&b.1))?;
    Some((stroke, Instant::of(finding.measure())))
}

/// The picture that shows a finding, with the lines of its measure alone.
fn of_finding(
    finding: &Finding,
    results: &Results<'_>,
    stills: &Stills<'_>,
) -> Result<Option<(Sort, &'static str, Image)>> {
    let Some((stroke, instant)) = showing(finding, results) else { return Ok(None) };
    let failed = |source| DrawError::Chart { file: FILE.to_owned(), source };
    let still = stills.one(stroke, instant, Lines::Of(&[finding.measure().id])).map_err(failed)?;
    Ok(match still {
        Some(still) => {
            let image = Image::of(&still.image, &still.alt)?;
            Some((finding.middle.sort, finding.measure().id, image))
        }
        None => None,
    })
}

/// A still of the most typical stroke, read back.
#[derive(Debug, Clone)]
struct Shown {
    sort: Sort,
    stroke: usize,
    instant: Instant,
    caption: String,
    scaled: Scaled,
}

/// The most typical stroke of each kind in pictures.
fn moments(typical: &[Shown]) -> Result<Vec<Moments>> {
    let mut moments: Vec<Moments> = Vec::new();
    for shown in typical {
        let picture = (shown.caption.clone(), Image::of(&shown.scaled.picture, &shown.scaled.alt)?);
        match moments.iter_mut().find(|known| known.sort == shown.sort) {
            Some(known) => known.pictures.push(picture),
            None => {
                moments.push(Moments { sort: shown.sort, stroke: shown.stroke, pictures: vec![picture] });
            }
        }
    }
    Ok(moments)
}

/// The stills of a folder of results that show the most typical stroke of each kind, in order; `sort` tells the kind of a
/// stroke by its number.
fn typical(folder: &Path, sort: impl Fn(usize) -> Option<Sort>) -> Result<Vec<Shown>, ReadError> {
    let stills = folder.join(still::FOLDER);
    let mut shown = Vec::new();
    for line in index::read(&stills)? {
        let moment = MOMENTS.into_iter().find(|(_, name)| *name == line.moment);
        let Some((instant, _)) = moment.filter(|_| line.shown_for.contains(Role::Typical.name())) else {
            continue;
        };
        let Some(sort) = sort(line.stroke) else { continue };
        let picture = line.picture(&stills)?;
        let scaled = Scaled { picture, alt: line.words, body_height: Some(line.body_height) };
        shown.push(Shown {
            sort,
            stroke: line.stroke,
            instant,
            caption: capitalised(instant.name()),
            scaled,
        });
    }
    Ok(shown)
}

impl Earlier {
    fn read(folder: &Path) -> Result<Self, ReadError> {
        let recorded = Recorded::at(folder)?;
        if !is_result(folder) {
            return Err(ReadError::NoResults(folder.to_owned()));
        }
        let clip = recorded.clips.first().map(|clip| clip.file.clone()).unwrap_or_default();
        let day = recorded.strokes.iter().find_map(|stroke| stroke.date.clone());
        let name = dated(&clip, day.as_deref());
        let session = Session { name: output::one_line(&name), recorded };
        let of_stroke = |number: usize| {
            let strokes = &session.recorded.strokes;
            strokes.iter().find(|stroke| stroke.number == number).map(ReadStroke::sort)
        };
        Ok(Self { typical: typical(folder, of_stroke)?, session })
    }
}

/// A clip's name with its date.
fn dated(clip: &str, date: Option<&str>) -> String {
    date.map_or_else(|| clip.to_owned(), |date| format!("{clip}, {date}"))
}

fn read_note(path: &Path) -> Result<String, NoteError> {
    let fail = |source| NoteError::Read(path.to_owned(), source);
    let mut bytes = Vec::new();
    fs::File::open(path).map_err(fail)?.take(LONGEST_NOTE + 1).read_to_end(&mut bytes).map_err(fail)?;
    if bytes.len() as u64 > LONGEST_NOTE {
        return Err(NoteError::TooLong(path.to_owned()));
    }
    let text = String::from_utf8(bytes).map_err(|_| NoteError::NotText(path.to_owned()))?;
    if text.contains('\0') { Err(NoteError::NotText(path.to_owned())) } else { Ok(text) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_note_is_plain_text_of_a_few_paragraphs() {
        let place = tempfile::tempdir().unwrap();
        let path = place.path().join("note.txt");
        let read = |bytes: &[u8]| {
            fs::write(&path, bytes).unwrap();
            read_note(&path).map_err(|error| error.to_string())
        };
        assert_eq!(read("Schön!\n".as_bytes()), Ok("Schön!\n".to_owned()));
        assert!(read(b"caf\xe9").unwrap_err().contains("UTF-8"));
        assert!(read(b"a\0b").unwrap_err().contains("plain text"));
        assert!(read(&vec![b'a'; 70_000]).unwrap_err().contains("64 kB"));
        let error = read_note(&place.path().join("none.txt")).unwrap_err().to_string();
        assert!(error.contains("none.txt") && error.contains("--note"), "{error}");
    }
}
