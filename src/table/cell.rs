//! One cell of a table: numbers stay numbers, text can't become a formula.

use std::borrow::Cow;

/// How numbers are written in CSV.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Decimal {
    /// With a point; a comma stands between cells.
    #[default]
    Point,
    /// With a comma; a semicolon stands between cells.
    Comma,
}

impl Decimal {
    /// What stands between cells.
    pub const fn delimiter(self) -> u8 {
        match self {
            Self::Point => b',',
            Self::Comma => b';',
        }
    }
}

/// Spreadsheets take text that starts with one of these for a formula.
const FORMULA: [char; 7] = ['=', '+', '-', '@', '\t', '\r', '\n'];

/// The text of a cell without the apostrophe by which tables keep it from becoming a formula.
pub fn plain(cell: &str) -> &str {
    cell.strip_prefix('\'').filter(|rest| rest.starts_with(FORMULA)).unwrap_or(cell)
}

/// What stands in one place of a table.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Cell {
    /// Nothing is known.
    Empty,
    /// Words.
    Text(String),
    /// A number, already with its digits.
    Number(String),
}

impl Cell {
    /// Words; empty text is an empty cell.
    pub fn text(words: impl Into<String>) -> Self {
        let words = words.into();
        if words.is_empty() { Self::Empty } else { Self::Text(words) }
    }

    /// Words that may be missing.
    pub fn maybe(words: Option<impl Into<String>>) -> Self {
        words.map_or(Self::Empty, Self::text)
    }

    /// A number with this many digits after the point.
    pub fn number(value: f64, decimals: usize) -> Self {
        // The crate has no NaN; a table that said "NaN" would still be worse than one that says nothing.
        if value.is_finite() { Self::Number(fixed(value, decimals)) } else { Self::Empty }
    }

    /// A number that may be missing.
    pub fn maybe_number(value: Option<f64>, decimals: usize) -> Self {
        value.map_or(Self::Empty, |value| Self::number(value, decimals))
    }

    /// A whole number.
    pub fn whole(value: usize) -> Self {
        Self::Number(value.to_string())
    }

    /// The cell as it is written: spreadsheets take text that starts with `=`, `+`, `-`, `@`, a tab or a line's end for
    /// a formula, so such text gets an apostrophe in front.
    pub fn written(&self, decimal: Decimal) -> Cow<'_, str> {
        match self {
            Self::Empty => Cow::Borrowed(""),
            Self::Number(digits) if decimal == Decimal::Comma => Cow::Owned(digits.replace('.', ",")),
            Self::Number(digits) => Cow::Borrowed(digits),
            Self::Text(words) if words.starts_with(FORMULA) => Cow::Owned(format!("'{words}")),
            Self::Text(words) => Cow::Borrowed(words),
        }
    }
}

impl Cell {
    /// The cell as a JSON value.
    pub fn json(&self) -> serde_json::Value {
        match self {
            Self::Empty => serde_json::Value::Null,
            Self::Text(words) => words.as_str().into(),
            Self::Number(digits) => digits.parse::<f64>().map_or_else(|_| digits.as_str().into(), Into::into),
        }
    }
}

/// A number with a fixed count of digits after the point; zero has no sign.
pub fn fixed(value: f64, decimals: usize) -> String {
    if let Some(text) = fixed_quickly(value, decimals) {
        return text;
    }
    let text = format!("{value:.decimals$}");
    let is_zero = text.chars().all(|c| matches!(c, '-' | '0' | '.'));
    if is_zero { text.trim_start_matches('-').to_owned() } else { text }
}

/// Numbers with more digits than this are written by way of the standard library, and so are those that lie this near to half a unit of
/// the last digit, of which multiplying doesn't tell the side.
const MOST_UNITS: f64 = 1e12;
const NEAR_HALF: f64 = 1e-3;

/// The same for most numbers: a long clip's table of frames has millions.
fn fixed_quickly(value: f64, decimals: usize) -> Option<String> {
    let factor = 10_u64.checked_pow(u32::try_from(decimals).ok()?)?;
    let units = value.abs() * factor as f64;
    let whole = units.floor();
    if units.is_nan() || units > MOST_UNITS || (units - whole - 0.5).abs() < NEAR_HALF {
        return None;
    }
    let mut left = whole as u64 + u64::from(units - whole > 0.5);
    let is_negative = value < 0.0 && left > 0;
    // From the last digit to the first.
    let mut digits = Vec::with_capacity(decimals + 8);
    while left > 0 || digits.len() <= decimals + usize::from(decimals > 0) {
        if decimals > 0 && digits.len() == decimals {
            digits.push(b'.');
        }
        digits.push(b'0' + (left % 10) as u8);
        left /= 10;
    }
    if is_negative {
        digits.push(b'-');
    }
    digits.reverse();
    String::from_utf8(digits).ok()
}

/// A value rounded to a count of digits after the point, for JSON.
pub fn rounded(value: f64, decimals: u32) -> f64 {
    let factor = 10_f64.powi(decimals as i32);
    let value = (value * factor).round() / factor;
    // Turns -0 into 0.
    value + 0.0
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn text_never_starts_a_formula() {
        for start in ["=1+1", "+1", "-1", "@SUM(A1)", "\t=1", "\r=1"] {
            let written = format!("'{start}");
            assert_eq!(Cell::text(start).written(Decimal::Point), written);
            assert_eq!((plain(&written), plain(start)), (start, start));
        }
        assert_eq!(Cell::text("a=1").written(Decimal::Point), "a=1");
        assert_eq!(plain("'tis"), "'tis");
    }

    #[test]
    fn digits_are_those_of_the_standard_library() {
        let values = [
            0.0, -0.0, 0.004, -0.004, 0.005, 0.015, 0.5, 1.5, 2.5, 9.995, -9.999, 99.5, 1234.5678, 1e11, 1e15,
        ];
        let many = (0..20_000).map(|i| (f64::from(i) * 0.731).sin() * 10_f64.powi(i % 9 - 3));
        let ties = (0..4000).map(|i| f64::from(i) / 16.0);
        for value in values.into_iter().chain(many).chain(ties).flat_map(|value| [value, -value]) {
            for decimals in 0..5 {
                let text = format!("{value:.decimals$}");
                let is_zero = text.chars().all(|c| matches!(c, '-' | '0' | '.'));
                let expected = if is_zero { text.trim_start_matches('-') } else { &text };
                assert_eq!(fixed(value, decimals), expected);
            }
        }
    }

    #[test]
    fn numbers_stay_numbers() {
        assert_eq!(Cell::number(-12.34, 1).written(Decimal::Point), "-12.3");
        assert_eq!(Cell::number(-0.04, 1).written(Decimal::Point), "0.0");
        assert_eq!(Cell::number(f64::NAN, 1), Cell::Empty);
        assert_eq!(rounded(-0.04, 1).to_string(), "0");
        assert_eq!(Cell::number(-12.34, 1).written(Decimal::Comma), "-12,3");
        assert_eq!(Cell::text("1.5 s").written(Decimal::Comma), "1.5 s");
    }
}
