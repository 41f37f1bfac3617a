//! Days as numbers.

/// Days since the year 0 in the Gregorian calendar (Richards 2013, Explanatory Supplement to the Astronomical Almanac,
/// 15.11, shifted); only differences are used.
pub(super) fn number(date: &str) -> Option<f64> {
    let mut parts = date.split('-').map(|part| part.parse::<i64>().ok());
    let (year, month, day) = (parts.next()??, parts.next()??, parts.next()??);
    let (year, month) = if month > 2 { (year, month) } else { (year - 1, month + 12) };
    Some((365 * year + year / 4 - year / 100 + year / 400 + (153 * (month - 3) + 2) / 5 + day) as f64)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn days_are_counted_through_leap_years() {
        let between = |a: &str, b: &str| number(b).unwrap() - number(a).unwrap();
        assert_eq!(between("2024-02-28", "2024-03-01"), 2.0);
        assert_eq!(between("2025-02-28", "2025-03-01"), 1.0);
        assert_eq!(between("2024-12-31", "2025-01-01"), 1.0);
        assert_eq!(between("2024-01-01", "2025-01-01"), 366.0);
        assert_eq!(number("soon"), None);
    }
}
