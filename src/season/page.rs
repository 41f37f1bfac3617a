//! `season.html`: the season at a glance, with the charts beside it.

use std::fmt::Write;

use super::gather::{Gathered, State};
use super::group::Group;
use crate::draw::svg::escaped;

/// A chart that the page shows.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Shown {
    /// Its file within the season's folder.
    pub file: String,
    /// What it shows.
    pub title: String,
}

const STYLE: &str = "\
body{font:16px/1.5 system-ui,sans-serif;color:#1c1f24;max-width:960px;margin:2em auto;padding:0 1em}\
table{border-collapse:collapse;margin:1em 0}th,td{text-align:left;padding:.2em .9em .2em 0;border-bottom:1px solid #dde0e4}\
td.n,th.n{text-align:right}img{width:100%;height:auto;margin:1em 0}h2{margin-top:2em}summary{cursor:pointer}\
@media print{details>*{display:block}}";

/// The page. `charts` holds the charts of each group, in the same order.
pub fn text(gathered: &Gathered, groups: &[Group], charts: &[Vec<Shown>]) -> String {
    let mut page = String::from("<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n");
    // Writing into text doesn't fail.
    let _ = write!(
        page,
        "<meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n<title>Season</title>\n\
         <style>{STYLE}</style>\n</head>\n<body>\n<h1>Season</h1>\n"
    );
    let measured = gathered.clips.iter().filter(|clip| clip.line.state == State::Measured).count();
    let _ = writeln!(
        page,
        "<p>{measured} of {} clips measured, {} strokes. Tables: <a href=\"sessions.csv\">sessions</a>, <a \
         href=\"strokes.csv\">strokes</a>, <a href=\"measures.csv\">measures</a>, <a href=\"clips.csv\">clips</a>.</p>",
        gathered.clips.len(),
        gathered.strokes.len()
    );
    others(&mut page, gathered);
    page.push_str(
        "<p>Means with their 95 % intervals tell how strokes scatter within a session. Sessions differ for other reasons too: \
         one that lies apart is no finding yet.</p>\n",
    );
    for (group, charts) in groups.iter().zip(charts) {
        let _ = writeln!(page, "<section>\n<h2>{}</h2>", escaped(&title(group)));
        sessions(&mut page, group);
        page.push_str("<details open>\n<summary>Charts</summary>\n");
        for chart in charts {
            let _ = writeln!(
                page,
                "<img loading=\"lazy\" src=\"{}\" alt=\"{}\">",
                escaped(&chart.file),
                escaped(&chart.title)
            );
        }
        page.push_str("</details>\n</section>\n");
    }
    page.push_str(
        "<p>The numbers describe movement in one camera's view. They diagnose nothing and prescribe nothing. If hitting \
         hurts, stop; see a doctor when the pain is strong or stays, or comes with numbness or swelling.</p>\n</body>\n</html>\n",
    );
    page
}

/// Whose strokes of which kind and view.
pub fn title(group: &Group) -> String {
    let player = if group.player.is_empty() { "Player not named" } else { &group.player };
    let kind = if group.kind == "unknown" { "kind unknown" } else { &group.kind };
    format!("{player} · {kind} · {} view", group.view)
}

/// The clips whose strokes are in no table.
fn others(page: &mut String, gathered: &Gathered) {
    let others: Vec<_> = gathered.clips.iter().filter(|clip| clip.line.state != State::Measured).collect();
    if others.is_empty() {
        return;
    }
    page.push_str("<h2>Clips that are not in the tables</h2>\n<table>\n<tr><th>Clip</th><th>Why</th></tr>\n");
    for clip in others {
        let why = clip.line.state.note().unwrap_or_else(|| "not measured yet".to_owned());
        let _ = writeln!(page, "<tr><td>{}</td><td>{}</td></tr>", escaped(&clip.line.file), escaped(&why));
    }
    page.push_str("</table>\n");
}

fn sessions(page: &mut String, group: &Group) {
    page.push_str("<table>\n<tr><th>Day</th><th>Drill</th><th class=\"n\">Strokes</th></tr>\n");
    for session in &group.sessions {
        let or = |text: &str, other: &str| escaped(if text.is_empty() { other } else { text });
        let _ = writeln!(
            page,
            "<tr><td>{}</td><td>{}</td><td class=\"n\">{}</td></tr>",
            or(&session.date, "no date"),
            or(&session.drill, "not said"),
            session.strokes
        );
    }
    page.push_str("</table>\n");
}
