//! How often the ± holds the truth, by measure, view and grade, with the interval in which the true share lies.

use std::collections::BTreeMap;

use toeline::measure::{CATALOGUE, Grade, Measurement};
use toeline::stats::TWO_SIDED_95;

/// What is wanted of the values that are to be trusted, graded good or fair.
const WANTED: std::ops::RangeInclusive<f64> = 0.92..=0.98;

/// No measure and view with so many values may hold less than this.
const FEWEST: usize = 20;
const LEAST: f64 = 0.85;

/// How many of some values hold the truth within their ±.
#[derive(Debug, Clone, Copy, Default)]
struct Count {
    all: usize,
    held: usize,
}

impl Count {
    fn add(&mut self, held: bool) {
        self.all += 1;
        self.held += usize::from(held);
    }

    fn with(self, other: Self) -> Self {
        Self { all: self.all + other.all, held: self.held + other.held }
    }

    fn share(self) -> f64 {
        self.held as f64 / self.all as f64
    }

    /// The binomial share's 95 % interval by Wilson's score (Wilson 1927, J Am Stat Assoc 22:209). Takes values to be
    /// independent, which strokes of one clip are not: the truth may well lie a little outside.
    fn interval(self) -> (f64, f64) {
        let (n, p, z) = (self.all as f64, self.share(), TWO_SIDED_95);
        let middle = p + z * z / (2.0 * n);
        let half = z * (p * (1.0 - p) / n + z * z / (4.0 * n * n)).sqrt();
        let whole = 1.0 + z * z / n;
        ((middle - half) / whole, (middle + half) / whole)
    }

    fn words(self) -> String {
        if self.all == 0 {
            return format!("{:>5} {:>6} {:>13}", 0, "", "");
        }
        let (low, high) = self.interval();
        let interval = format!("{:.0} to {:.0} %", 100.0 * low, 100.0 * high);
        format!("{:>5} {:>5.1}% {interval:>13}", self.all, 100.0 * self.share())
    }
}

/// Counts by grade, low first.
type Grades = [Count; 3];

fn trusted(grades: &Grades) -> Count {
    grades[Grade::Good as usize].with(grades[Grade::Fair as usize])
}

/// All counts.
#[derive(Default)]
pub struct Coverage {
    measures: BTreeMap<(usize, String), Grades>,
    clips: BTreeMap<String, Grades>,
}

impl Coverage {
    /// Adds a value of a measure, of a clip that was filmed from `view`, whose error is `error`.
    pub fn add(&mut self, clip: &str, measure: usize, view: &str, value: &Measurement, error: f64) {
        let held = error.abs() <= value.plus_minus;
        let grade = value.grade as usize;
        self.measures.entry((measure, view.to_owned())).or_default()[grade].add(held);
        self.clips.entry(clip.to_owned()).or_default()[grade].add(held);
    }

    pub fn print(&self) {
        let heads = ["good", "fair", "good and fair", "low"];
        println!("\nHow often the ± holds the truth, with the 95 % interval of that share");
        println!("{:<36} {:<9}{}", "measure", "view", heads.map(|head| format!(" | {head:>26}")).concat());
        let line = |name: &str, view: &str, grades: &Grades| {
            let [low, fair, good] = *grades;
            let cells = [good, fair, trusted(grades), low].map(|count| format!(" | {}", count.words()));
            let few = trusted(grades).all >= FEWEST && trusted(grades).share() < LEAST;
            println!("{name:<36} {view:<9}{}{}", cells.concat(), if few { "  too rarely" } else { "" });
        };
        for ((measure, view), grades) in &self.measures {
            line(CATALOGUE[*measure].id, view, grades);
        }
        for (clip, grades) in &self.clips {
            line(clip, "", grades);
        }
        let sum = |sums: Grades, grades: &Grades| std::array::from_fn(|g| sums[g].with(grades[g]));
        let all: Grades = self.clips.values().fold(Grades::default(), sum);
        line("all", "", &all);
        let good = all[Grade::Good as usize];
        let share = trusted(&all).share();
        println!(
            "good and fair: {:.1} % held ({}); graded good and wrong: {:.1} % of the good, {:.1} % of good and fair",
            100.0 * share,
            if WANTED.contains(&share) { "as wanted" } else { "not as wanted" },
            100.0 * (1.0 - good.share()),
            100.0 * (good.all - good.held) as f64 / trusted(&all).all as f64
        );
    }
}
