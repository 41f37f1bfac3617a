//! The review page of a player whose points are known.

#![allow(clippy::unwrap_used, reason = "a test may fail where it stands")]

mod draw_support;

use std::path::Path;

use draw_support::{Setup, well_formed};
use toeline::compare::{Session, compare};
use toeline::draw;
use toeline::measure::clip::{ClipMeasures, Seen, Stated};
use toeline::measure::{CATALOGUE, Grade, Measurement, Missing};
use toeline::page::{Before, Image, Moments, Pair, Pictures, Review, Scaled};
use toeline::pose::Motion;
use toeline::stroke::{Kind, Sort};
use toeline::table::{Labels, ModelNote, ReadClip, ReadStroke, Recorded, Results};
use toeline::targets::{Set, Shipped};
use toeline::video::{Clip, ClipInfo, ClipReport, Picture};

/// Text that would be markup, an attribute's end, or a template's.
const HOSTILE: &str =
    "</style><script>alert(1)</script>\" onload='x' {{ 1 }} {% x %} &lt; <img src=http://a.example/x>";

/// Everything that a clip's results hold.
struct World {
    info: ClipInfo,
    report: ClipReport,
    labels: Labels,
    stated: Stated,
    seen: Seen,
    model: ModelNote,
    motion: Motion,
    measures: ClipMeasures,
    clip: String,
}

impl World {
    fn of(setup: &Setup) -> Self {
        let demo = Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures/demo.mp4");
        let word = |text: &str| text.to_owned();
        Self {
            info: Clip::open(&demo, None).unwrap().info().clone(),
            report: ClipReport::default(),
            labels: Labels { player: Some(word("P01")), date: Some(word("2025-06-14")), ..Labels::default() },
            stated: Stated::default(),
            seen: Seen::default(),
            model: ModelNote { name: word("net"), file: word("n"), sha256: word("0"), licence: word("MIT") },
            motion: setup.picture(),
            measures: setup.clip(),
            clip: word("practice.mp4"),
        }
    }

    fn results(&self) -> Results<'_> {
        Results {
            clip: &self.clip,
            sha256: "0",
            info: &self.info,
            report: &self.report,
            no_sound: None,
            labels: &self.labels,
            stated: &self.stated,
            seen: &self.seen,
            people: 1,
            model: &self.model,
            detectors: &[],
            runtime: "x",
            motion: &self.motion,
            measures: &self.measures,
            second: None,
        }
    }

    /// The page with findings by a set of targets.
    fn page(&self, set: &Set, note: Option<&str>, pictures: &Pictures, before: Option<&Before>) -> String {
        let results = self.results();
        let (findings, met) = (set.findings(&results.observed()), set.met(&results.observed()));
        let charts = draw::charts(&self.motion, &self.measures).unwrap();
        let review = Review {
            results: &results,
            findings: &findings,
            met: &met,
            few: &set.shown_by_few(&results.observed()),
            note,
            pictures,
            charts: &charts,
            next_time: None,
            before,
        };
        review.page().unwrap()
    }
}

fn image(alt: &str) -> Image {
    Image::of(&Picture { width: 40, height: 30, rgb: vec![120; 40 * 30 * 3] }, alt).unwrap()
}

/// Targets of which the player misses one and meets another.
fn targets(words: &str) -> Set {
    let words = toml::Value::String(words.to_owned());
    let text = format!(
        "[hand_behind_shoulder_cm]\nhigh = -60\nmargin = 5\nwords = {words}\ndrill = {words}\nsource = {words}\n\
         [trunk_lean_at_contact_deg]\nlow = -60\nhigh = 60\nsource = {words}"
    );
    Set::parse(&text, "x").unwrap()
}

fn pictures() -> Pictures {
    Pictures {
        of_findings: vec![(Sort::Forehand, "hand_behind_shoulder_cm", image("the finding"))],
        moments: vec![Moments {
            sort: Sort::Forehand,
            stroke: 2,
            pictures: ["Ready", "Contact"].map(|moment| (moment.to_owned(), image(moment))).to_vec(),
        }],
    }
}

/// Tags in order, without what lies in charts and styles.
fn tags(page: &str) -> Vec<String> {
    let mut tags = Vec::new();
    let mut in_chart = false;
    for part in page.split('<').skip(1) {
        let name: String =
            part.chars().take_while(|c| c.is_ascii_alphanumeric() || "/!".contains(*c)).collect();
        in_chart &= name != "/svg";
        if !in_chart {
            tags.push(name.clone());
        }
        in_chart |= name == "svg";
    }
    tags
}

/// Headings and landmarks, pictures and tables, line by line.
fn outline(page: &str) -> String {
    const TOLD: [&str; 15] = [
        "header", "nav", "main", "footer", "section", "article", "h1", "h2", "h3", "h4", "img", "svg",
        "table", "ol", "dl",
    ];
    let mut lines = String::new();
    let mut in_chart = false;
    for part in page.split('<').skip(1) {
        let name: String = part.chars().take_while(char::is_ascii_alphanumeric).collect();
        in_chart &= !part.starts_with("/svg");
        if TOLD.contains(&name.as_str()) && !in_chart {
            let text = part.split_once('>').map_or("", |(_, text)| text.trim());
            let alt = part.split_once("alt=\"").and_then(|(_, rest)| rest.split('"').next()).unwrap_or(text);
            lines.push_str(format!("{name} {}", if name == "svg" { "" } else { alt }).trim_end());
            lines.push('\n');
        }
        in_chart |= name == "svg";
    }
    lines
}

#[test]
fn the_page_keeps_its_structure() {
    let world = World::of(&Setup { strokes: 4, missing: &[3], ..Setup::default() });
    let before = session_pair(&[("hand_behind_shoulder_cm", 40.0, 10.0)], 8);
    let page = world.page(&targets("Shorter."), Some("Well done.\n\nGo on."), &pictures(), Some(&before));
    insta::assert_snapshot!(outline(&page));
    for words in
        ["lang=\"en\"", "<th scope=\"col\"", "<th scope=\"row\"", "role=\"img\"", "width=device-width"]
    {
        assert!(page.contains(words), "{words}");
    }
    for chart in page.split("<svg").skip(1).filter_map(|rest| rest.split_once("</svg>")) {
        well_formed(&format!("<svg{}</svg>", chart.0)).unwrap();
    }
    let ids: Vec<&str> = page.split(" id=\"").skip(1).filter_map(|rest| rest.split('"').next()).collect();
    let unique: std::collections::BTreeSet<&&str> = ids.iter().collect();
    assert_eq!(ids.len(), unique.len(), "{ids:?}");
    for id in page.split("href=\"#").skip(1).filter_map(|rest| rest.split('"').next()) {
        assert!(ids.contains(&id), "nothing is at #{id}");
    }
}

#[test]
fn no_text_becomes_markup() {
    let mut world = World::of(&Setup::default());
    world.labels.coach = Some("Kim".to_owned());
    let tame = tags(&world.page(&targets("tame"), Some("tame"), &pictures(), None));
    world.clip = HOSTILE.to_owned();
    world.labels.player = Some(HOSTILE.to_owned());
    world.labels.coach = Some(HOSTILE.to_owned());
    world.report.warnings = vec![HOSTILE.to_owned()];
    world.model.name = HOSTILE.to_owned();
    let mut pictures = pictures();
    pictures.of_findings[0].2 = image(HOSTILE);
    pictures.moments[0].pictures[0].0 = HOSTILE.to_owned();
    let page = world.page(&targets(HOSTILE), Some(HOSTILE), &pictures, None);
    let wild: Vec<String> = tags(&page);
    // The warning is a line more in a list.
    let allowed: std::collections::BTreeSet<&String> = tame.iter().collect();
    assert!(wild.iter().all(|tag| allowed.contains(tag)), "{wild:?}");
    assert!(!page.contains("<script") && !page.contains("<img src=http"), "{page}");
    assert_eq!(page.matches("</style>").count(), 1);
    assert!(page.matches("alert(1)").count() >= 9, "the words themselves are there");
    assert!(page.contains("{{ 1 }} {% x %}"), "as they are");
}

#[test]
fn nothing_is_named_from_values_of_a_low_grade() {
    let world = World::of(&Setup { grade: Grade::Low, ..Setup::default() });
    let page = world.page(&targets("Shorter."), None, &pictures(), None);
    assert!(
        !page.contains("class=\"finding") && !page.contains("id=\"well\"") && !page.contains("the finding")
    );
    assert!(page.contains("no number of this clip is sure enough") && page.contains("(rough)"), "{page}");
    let player = page.split("class=\"coach\"").next().unwrap();
    assert!(
        player.contains("<figcaption>Contact of stroke 2</figcaption>"),
        "a picture all the same: {page}"
    );
    let world = World::of(&Setup { strokes: 0, ..Setup::default() });
    let page = world.page(&targets("Shorter."), None, &Pictures::default(), None);
    assert!(page.contains("No stroke was found") && !page.contains("<table") && !page.contains("<svg"));
}

#[test]
fn what_was_not_measured_is_told_with_its_reason() {
    let mut world =
        World::of(&Setup { strokes: 4, kinds: &[Kind::Forehand, Kind::Backhand], ..Setup::default() });
    let speed = CATALOGUE.iter().position(|m| m.id == "hand_speed_peak_mps").unwrap();
    for stroke in &mut world.measures.strokes {
        stroke.measured.outcomes[speed] = Err(Missing::FrameRateTooLow);
    }
    let page = world.page(&targets("Shorter."), None, &pictures(), None);
    assert!(page.contains("<strong>Too few frames a second</strong>: peak speed of the hand."), "{page}");
    assert!(page.contains("Film at 120 frames a second or more."));
    assert!(page.contains("<h1>Review of 2 forehands and 2 backhands</h1>"));
}

#[test]
fn each_kind_has_a_part_of_its_own() {
    let world =
        World::of(&Setup { strokes: 8, kinds: &[Kind::Forehand, Kind::Overhead], ..Setup::default() });
    let page = world.page(&targets("Shorter."), None, &pictures(), None);
    let at = |text: &str| page.find(text).unwrap_or_else(|| panic!("{text} is not on the page"));
    let (forehands, overheads) =
        (at("<h2 id=\"strokes-1\">All strokes: forehands</h2>"), at("All strokes: serves or overheads</h2>"));
    assert!(forehands < overheads);
    // The finding is the forehands': overheads have no such measure, and no column for it.
    assert!(page.matches("class=\"finding").count() == 1 && page.contains("(forehands)</h3>"));
    assert!(page[forehands..overheads].contains("Hand behind"));
    assert!(!page[overheads..].split("</table>").next().unwrap().contains("Hand behind"));
}

/// Two sessions in which measures go from one value to another.
fn session_pair(changes: &[(&str, f64, f64)], strokes: usize) -> Before {
    let session = |name: &str, after: bool| {
        let stroke = |i: usize| {
            let value = |id: &str| {
                let (_, from, to) = changes.iter().find(|change| change.0 == id)?;
                let value = if after { *to } else { *from } + [-0.5, 0.3, 0.2, -0.1, 0.1][i % 5];
                Some(Measurement { value, plus_minus: 1.0, grade: Grade::Good })
            };
            ReadStroke {
                source: 0,
                clip: name.to_owned(),
                number: i + 1,
                player: None,
                date: None,
                drill: None,
                kind: "forehand".to_owned(),
                hand: "right".to_owned(),
                hands: Some(1),
                volley: false,
                view: "side".to_owned(),
                stance: None,
                values: CATALOGUE.iter().map(|m| value(m.id)).collect(),
                reasons: vec![None; CATALOGUE.len()],
            }
        };
        let clips = vec![ReadClip { file: name.to_owned(), ..ReadClip::default() }];
        let recorded = Recorded { clips, strokes: (0..strokes).map(stroke).collect() };
        Session { name: name.to_owned(), recorded }
    };
    let (before, after) = (session("may.mp4", false), session("june.mp4", true));
    let comparison = compare(&before, &after, &Recorded::default(), &Set::shipped(Shipped::Drill).unwrap());
    let scaled = Scaled {
        picture: Picture { width: 40, height: 30, rgb: vec![120; 40 * 30 * 3] },
        alt: "at contact".to_owned(),
        body_height: Some(20.0),
    };
    Before { comparison, pairs: vec![Pair::of("Contact", &scaled, &scaled).unwrap()] }
}

#[test]
fn the_largest_change_against_its_target_comes_first() {
    // In margins of their targets: 2.5, 6, and 4 limits of a good ± without a target's range.
    let changes = [
        ("trunk_lean_at_finish_deg", 0.0, 10.0),
        ("hand_behind_shoulder_cm", 40.0, 9.5),
        ("hand_above_shoulder_cm", 0.0, 60.0),
    ];
    let world = World::of(&Setup::default());
    let page = world.page(&targets("x"), None, &pictures(), Some(&session_pair(&changes, 8)));
    let section = page.split_once("id=\"change\"").unwrap().1.split_once("</section>").unwrap().0;
    let items: Vec<&str> =
        section.split("<li><strong>").skip(1).map(|rest| rest.split('<').next().unwrap()).collect();
    assert_eq!(
        items,
        [
            "Hand behind the shoulder",
            "Trunk lean at the finish",
            "Hand above the shoulder at the top of the loop"
        ]
    );
    assert!(
        section.contains("Three things have clearly changed")
            && section.contains("40 cm, now 10 cm behind the shoulder: now inside the aim"),
        "{section}"
    );
    let [before, after] = ["<figcaption>Before: may.mp4", "<figcaption>After: june.mp4"]
        .map(|words| section.find(words).unwrap());
    assert!(before < after);
    // Few strokes are only described.
    let page = world.page(&targets("x"), None, &pictures(), Some(&session_pair(&changes, 4)));
    assert!(
        page.contains("too few strokes to tell a change from chance") && !page.contains("clearly changed"),
        "{page}"
    );
}

#[test]
fn the_players_part_comes_first_and_names_one_thing() {
    let world = World::of(&Setup { strokes: 4, ..Setup::default() });
    let text = "[hand_behind_shoulder_cm]\nhigh = -60\nmargin = 5\nprimary = true\nwords = 'Shorter.'\nsource = 'x'\n\
                [trunk_lean_at_contact_deg]\nlow = 60\nmargin = 1\nwords = 'Lean.'\nsource = 'x'";
    let set = Set::parse(text, "x").unwrap();
    let page = world.page(&set, None, &pictures(), None);
    let (player, coach) = page.split_once("class=\"coach\"").unwrap();
    // What the coach named beforehand leads, however far the other is off.
    assert!(player.contains("Shorter.") && !player.contains("Lean."), "{player}");
    assert!(coach.contains("Lean.") && player.contains("Next check:") && !player.contains("<table"));
}

#[test]
fn the_sheet_for_the_court_holds_the_first_finding_alone() {
    let world = World::of(&Setup { strokes: 4, ..Setup::default() });
    let (results, set, pictures) = (world.results(), targets("Shorter."), pictures());
    let (findings, met) = (set.findings(&results.observed()), set.met(&results.observed()));
    let review = |findings| Review {
        results: &results,
        findings,
        met: &met,
        few: &[],
        note: None,
        pictures: &pictures,
        charts: &[],
        next_time: None,
        before: None,
    };
    let card = review(&findings).card().unwrap().unwrap();
    for words in ["size: A5", "Shorter.", "P01", "Aim</dt>", "the finding"] {
        assert!(card.contains(words), "{words}: {card}");
    }
    assert!(!card.contains("Trunk lean"));
    assert!(review(&[]).card().unwrap().is_none(), "nothing to work on");
}
