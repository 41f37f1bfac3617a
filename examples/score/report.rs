//! Gathering errors and printing them.

use std::collections::BTreeMap;
use std::path::Path;

use toeline::measure::clip::{ClipMeasures, MeasuredStroke};
use toeline::measure::{CATALOGUE, Grade, Measure};
use toeline::order;
use toeline::stroke::Boundary;

use crate::contact::Contacts;
use crate::coverage::Coverage;
use crate::truth::{TrueStroke, Truth};

/// Strokes belong together when their contacts are this near, seconds.
const SAME_STROKE: f64 = 0.4;

/// One compared value.
struct Compared {
    clip: String,
    error: f64,
    error_ungiven: Option<f64>,
    inside: bool,
    /// Error over the standard deviation that its ± stands for.
    strain: f64,
    grade: Option<Grade>,
}

#[derive(Default)]
struct Comparisons {
    values: Vec<Compared>,
    missing: BTreeMap<&'static str, usize>,
}

/// Everything that was compared.
pub struct Report {
    each: bool,
    rows: BTreeMap<(usize, String), Comparisons>,
    times: BTreeMap<(usize, String), Comparisons>,
    contacts: Contacts,
    coverage: Coverage,
    lost: Vec<String>,
    invented: Vec<String>,
    wrong: Vec<String>,
    strokes: usize,
    /// Lines of the table of all compared values.
    values: Vec<String>,
    /// Steps of the back foot that were given as a lift of its heel, of all steps.
    steps: (usize, usize),
}

impl Report {
    pub fn new(each: bool) -> Self {
        Self {
            each,
            rows: BTreeMap::new(),
            times: BTreeMap::new(),
            contacts: Contacts::new(each),
            coverage: Coverage::default(),
            lost: Vec::new(),
            invented: Vec::new(),
            wrong: Vec::new(),
            strokes: 0,
            values: Vec::new(),
            steps: (0, 0),
        }
    }

    pub fn add(&mut self, clip: &str, truth: &Truth, measured: &ClipMeasures, ungiven: &ClipMeasures) {
        let view = truth.seen_from().name();
        let direction = measured
            .direction
            .map_or("none".into(), |d| format!("{} {:.0} ± {:.0}", d.view.name(), d.angle.0, d.spread.0));
        println!(
            "{clip}: {} ({}), true view {}, found {direction}, {} strokes of {}",
            truth.player,
            truth.height,
            truth.view,
            measured.strokes.len(),
            truth.strokes.len()
        );
        if let Some(hitting) = measured.hitting
            && hitting.hand != truth.hand
        {
            self.wrong.push(format!("{clip}: hand {:?}", hitting.hand));
        }
        let mut taken = vec![false; measured.strokes.len()];
        for stroke in &truth.strokes {
            self.strokes += 1;
            let Some(i) = nearest(&measured.strokes, stroke.contact) else {
                self.lost.push(format!("{clip} {:.2} s", stroke.contact));
                continue;
            };
            taken[i] = true;
            let found = &measured.strokes[i];
            if found.stroke.sort() != stroke.sort {
                self.wrong.push(format!(
                    "{clip} {:.2} s: {:?}, is {:?}",
                    stroke.contact,
                    found.stroke.sort(),
                    stroke.sort
                ));
            }
            let other = nearest(&ungiven.strokes, stroke.contact).map(|j| &ungiven.strokes[j]);
            self.contacts.add(clip, measured.space.rate, stroke.contact, stroke.peak_speed(), found);
            let group = format!("{} {view}", stroke.sort.name());
            self.compare(clip, &group, stroke, found, other);
        }
        for (stroke, _) in measured.strokes.iter().zip(taken).filter(|(_, taken)| !taken) {
            self.invented.push(format!("{clip} {:.2} s", stroke.stroke.phases.contact.time.0));
        }
    }

    fn compare(
        &mut self,
        clip: &str,
        view: &str,
        truth: &TrueStroke,
        found: &MeasuredStroke,
        ungiven: Option<&MeasuredStroke>,
    ) {
        if truth.steps() && truth.sort.is_ground_stroke() {
            let lift =
                Measure::place("back_heel_lift_cm").and_then(|place| found.measured.outcomes[place].ok());
            self.steps.0 += usize::from(lift.is_some());
            self.steps.1 += 1;
        }
        for (m, measure) in CATALOGUE.iter().enumerate() {
            let Some(value) = truth.value(measure) else { continue };
            let row = self.rows.entry((m, view.to_owned())).or_default();
            match found.measured.outcomes[m] {
                Ok(measurement) => {
                    let error = measurement.value - value;
                    self.coverage.add(clip, m, view, &measurement, error);
                    self.values.push(format!(
                        "{clip},{:.3},{view},{},{value:.4},{:.4},{:.4},{}",
                        truth.contact,
                        measure.id,
                        measurement.value,
                        measurement.plus_minus,
                        measurement.grade.name()
                    ));
                    row.values.push(Compared {
                        clip: clip.to_owned(),
                        error,
                        error_ungiven: ungiven
                            .and_then(|u| u.measured.outcomes[m].ok())
                            .map(|u| u.value - value),
                        inside: error.abs() <= measurement.plus_minus,
                        strain: 1.96 * error / measurement.plus_minus,
                        grade: Some(measurement.grade),
                    });
                }
                Err(reason) => *row.missing.entry(reason.name()).or_default() += 1,
            }
        }
        for (b, boundary) in Boundary::ALL.into_iter().enumerate() {
            let Some(time) = truth.boundary(boundary) else { continue };
            let row = self.times.entry((b, view.to_owned())).or_default();
            match (found.stroke.phases.get(boundary), found.measured.boundaries[b]) {
                (Some(mark), half) => row.values.push(Compared {
                    clip: clip.to_owned(),
                    error: 1000.0 * (mark.time.0 - time),
                    error_ungiven: None,
                    inside: half.is_some_and(|h| (mark.time.0 - time).abs() <= h.0),
                    strain: half.map_or(f64::NAN, |h| 1.96 * (mark.time.0 - time) / h.0),
                    grade: None,
                }),
                (None, _) => *row.missing.entry("phase absent").or_default() += 1,
            }
        }
    }

    /// Writes every compared value into a CSV file.
    pub fn write_values(&self, file: &Path) -> std::io::Result<()> {
        let head = "clip,contact_s,view,measure,true_value,value,plus_minus,grade";
        std::fs::write(file, format!("{head}\n{}\n", self.values.join("\n")))
    }

    pub fn print(&self) {
        println!("\n{} strokes; lost {}: {:?}", self.strokes, self.lost.len(), self.lost);
        println!("invented {}: {:?}", self.invented.len(), self.invented);
        println!("steps given as a lift of the heel: {} of {}", self.steps.0, self.steps.1);
        println!("wrong hand or kind {}: {:?}", self.wrong.len(), self.wrong);
        println!(
            "\n{:<36} {:<22} {:>3} {:>8} {:>7} {:>8} {:>7} {:>8} {:>7} {:>6} {:>10} {:>8}  worst clip; reasons",
            "measure",
            "view",
            "n",
            "bias",
            "spread",
            "median|e|",
            "p90|e|",
            "missing",
            "inside",
            "strain",
            "not given",
            "trusted"
        );
        for ((m, view), row) in &self.rows {
            self.line(CATALOGUE[*m].id, view, row, CATALOGUE[*m].decimals + 1);
        }
        println!();
        for ((b, view), row) in &self.times {
            self.line(&format!("{} (ms)", Boundary::ALL[*b].name()), view, row, 0);
        }
        for b in 0..Boundary::ALL.len() {
            let all: Vec<f64> = self
                .times
                .iter()
                .filter(|((i, _), _)| *i == b)
                .flat_map(|(_, row)| row.values.iter().map(|v| v.error.abs()))
                .collect();
            println!(
                "{:<36} {:<22} {:>3} {:>34.0} {:>7.0}",
                format!("{} (ms)", Boundary::ALL[b].name()),
                "all",
                all.len(),
                quantile(&all, 0.5),
                quantile(&all, 0.9)
            );
        }
        self.contacts.print();
        self.coverage.print();
    }

    fn line(&self, name: &str, view: &str, row: &Comparisons, digits: usize) {
        let n = row.values.len();
        let missing: usize = row.missing.values().sum();
        let reasons: Vec<String> = row.missing.iter().map(|(r, k)| format!("{r} {k}")).collect();
        if n == 0 {
            println!("{name:<36} {view:<22}   0 {:>61.0}% {:>18}  {}", 100.0, "", reasons.join(", "));
            return;
        }
        let mut clips: BTreeMap<&str, Vec<f64>> = BTreeMap::new();
        for value in &row.values {
            clips.entry(&value.clip).or_default().push(value.error);
        }
        let medians: BTreeMap<&str, f64> =
            clips.iter().map(|(clip, errors)| (*clip, quantile(errors, 0.5))).collect();
        let from_median: Vec<f64> =
            row.values.iter().map(|v| (v.error - medians[v.clip.as_str()]).abs()).collect();
        let errors: Vec<f64> = row.values.iter().map(|v| v.error).collect();
        let absolute: Vec<f64> = errors.iter().map(|e| e.abs()).collect();
        let ungiven: Vec<f64> = row.values.iter().filter_map(|v| v.error_ungiven.map(f64::abs)).collect();
        let worst = medians.iter().max_by(|a, b| a.1.abs().total_cmp(&b.1.abs()));
        let inside = row.values.iter().filter(|v| v.inside).count();
        let strain = (row.values.iter().map(|v| v.strain.powi(2)).sum::<f64>() / n as f64).sqrt();
        let trusted = row.values.iter().filter(|v| v.grade != Some(Grade::Low)).map(|v| v.error.abs());
        let trusted = trusted.fold(0.0, f64::max);
        let low = row.values.iter().filter(|v| v.grade == Some(Grade::Low)).count();
        println!(
            "{name:<36} {view:<22} {n:>3} {:>8.digits$} {:>7.digits$} {:>9.digits$} {:>7.digits$} {:>7.0}% {:>6.0}% {strain:>6.2} {:>10.digits$} {trusted:>8.digits$}  {}; {} low; {}",
            quantile(&errors, 0.5),
            quantile(&from_median, 0.5),
            quantile(&absolute, 0.5),
            quantile(&absolute, 0.9),
            100.0 * missing as f64 / (missing + n) as f64,
            100.0 * inside as f64 / n as f64,
            quantile(&ungiven, 0.5),
            worst.map_or(String::new(), |(clip, e)| format!("{clip} {e:+.digits$}")),
            low,
            reasons.join(", ")
        );
        if self.each {
            let all: Vec<String> = clips
                .iter()
                .map(|(clip, errors)| {
                    let median = quantile(errors, 0.5);
                    let grades: String = row
                        .values
                        .iter()
                        .filter(|v| v.clip == **clip)
                        .filter_map(|v| v.grade)
                        .map(|g| &g.name()[..1])
                        .collect();
                    let half =
                        |v: &&Compared| (v.clip == **clip).then_some((1.96 * v.error / v.strain).abs());
                    let halves: Vec<f64> = row.values.iter().filter_map(|v| half(&v)).collect();
                    format!("{clip} {median:+.digits$} ± {:.digits$} {grades}", quantile(&halves, 0.5))
                })
                .collect();
            println!("        {}", all.join(" | "));
        }
    }
}

fn nearest(strokes: &[MeasuredStroke], contact: f64) -> Option<usize> {
    let met = |stroke: &MeasuredStroke| stroke.stroke.phases.contact.time.0;
    order::nearest(strokes, met, contact).filter(|&i| (met(&strokes[i]) - contact).abs() <= SAME_STROKE)
}

/// Quantile; no number for no values.
pub fn quantile(values: &[f64], share: f64) -> f64 {
    order::quantile(values.to_vec(), share).unwrap_or(f64::NAN)
}
