//! Tables that people fill in: read with the number of each line, so that what is wrong can be named.
//!
//! Spreadsheets write what their country's habits are: a comma or a semicolon between cells, a point or a comma in
//! numbers, a mark in front of the first byte. All of that is understood.

use std::fs;
use std::path::{Path, PathBuf};

use super::cell::plain;
use crate::error::ErrorKind;

/// A table that a person has filled in can't be used.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum ByHandError {
    /// The file can't be read.
    #[error("{path}: cannot be read ({source}); check its name and that it is still there", path = .path.display())]
    Read {
        /// The file.
        path: PathBuf,
        /// The system's answer.
        source: std::io::Error,
    },
    /// The file is no such table.
    #[error("{path}: {problem}", path = .path.display())]
    Table {
        /// The file.
        path: PathBuf,
        /// What is wrong and what to do.
        problem: String,
    },
    /// A line is wrong.
    #[error("{path}, line {line}: {problem}", path = .path.display())]
    Line {
        /// The file.
        path: PathBuf,
        /// The line, from 1; the header is line 1.
        line: u64,
        /// What is wrong and what to do.
        problem: String,
    },
}

impl ByHandError {
    /// What sort of fault it is.
    pub fn kind(&self) -> ErrorKind {
        match self {
            Self::Read { .. } | Self::Table { .. } | Self::Line { .. } => ErrorKind::Input,
        }
    }
}

/// A table as it was filled in.
#[derive(Debug, Clone)]
pub struct ByHand {
    /// The file.
    pub path: PathBuf,
    header: Vec<String>,
    /// Every line that isn't empty.
    pub rows: Vec<ByHandRow>,
}

/// A line of such a table.
#[derive(Debug, Clone)]
pub struct ByHandRow {
    /// Its number in the file.
    pub line: u64,
    cells: Vec<String>,
}

impl ByHand {
    /// Reads a table with these columns; `needed` ones must be there, `known` ones may be, any other is a mistake.
    ///
    /// # Errors
    /// [`ByHandError`].
    pub fn read(path: &Path, needed: &[&str], known: &[&str]) -> Result<Self, ByHandError> {
        let text = fs::read(path).map_err(|source| ByHandError::Read { path: path.to_owned(), source })?;
        let wrong = |problem: String| ByHandError::Table { path: path.to_owned(), problem };
        let text = String::from_utf8(text)
            .map_err(|_| wrong("this is not UTF-8 text; save it as CSV in UTF-8".to_owned()))?;
        let text = text.strip_prefix('\u{feff}').unwrap_or(&text);
        let first = text.lines().next().unwrap_or_default();
        let delimiter = if first.contains(';') { b';' } else { b',' };
        let mut reader = csv::ReaderBuilder::new()
            .delimiter(delimiter)
            .has_headers(false)
            .flexible(true)
            .trim(csv::Trim::All)
            .from_reader(text.as_bytes());
        let mut rows = Vec::new();
        for record in reader.records() {
            let record = record.map_err(|error| wrong(format!("this is no CSV table ({error})")))?;
            let line =
                record.position().map_or(0, |position| line_at(text.as_bytes(), position.byte() as usize));
            let cells: Vec<String> = record.iter().map(|cell| plain(cell).to_owned()).collect();
            if cells.iter().any(|cell| !cell.is_empty()) {
                rows.push(ByHandRow { line, cells });
            }
        }
        if rows.is_empty() {
            return Err(wrong(format!(
                "the table is empty; its first line names the columns: {}",
                known.join(",")
            )));
        }
        let header: Vec<String> = rows.remove(0).cells.iter().map(|name| name.to_lowercase()).collect();
        if let Some(missing) = needed.iter().find(|name| !header.iter().any(|found| found == *name)) {
            return Err(wrong(format!(
                "there is no column `{missing}`; the columns are {}",
                known.join(",")
            )));
        }
        if let Some(other) = header.iter().find(|name| !name.is_empty() && !known.contains(&name.as_str())) {
            return Err(wrong(format!(
                "there is no use for a column `{other}`; the columns are {}",
                known.join(",")
            )));
        }
        if let Some(long) = rows.iter().find(|row| row.cells.iter().skip(header.len()).any(|c| !c.is_empty()))
        {
            return Err(ByHandError::Line {
                path: path.to_owned(),
                line: long.line,
                problem: "has more cells than the first line has columns; put text with commas in quotes"
                    .to_owned(),
            });
        }
        Ok(Self { path: path.to_owned(), header, rows })
    }

    /// A row's cell; `None` where it is empty or there is no such column.
    pub fn cell<'a>(&self, row: &'a ByHandRow, column: &str) -> Option<&'a str> {
        let place = self.header.iter().position(|name| name == column)?;
        row.cells.get(place).map(String::as_str).filter(|cell| !cell.is_empty())
    }

    /// A row's cell as a number, with a point or a comma.
    ///
    /// # Errors
    /// [`ByHandError::Line`] for a cell that is no number.
    pub fn number(&self, row: &ByHandRow, column: &str) -> Result<Option<f64>, ByHandError> {
        let Some(cell) = self.cell(row, column) else { return Ok(None) };
        match cell.replace(',', ".").parse::<f64>() {
            Ok(value) if value.is_finite() => Ok(Some(value)),
            _ => Err(self.wrong(row, format!("{column} is `{cell}`, which is no number"))),
        }
    }

    /// An error about a row.
    pub fn wrong(&self, row: &ByHandRow, problem: impl Into<String>) -> ByHandError {
        ByHandError::Line { path: self.path.clone(), line: row.line, problem: problem.into() }
    }
}

/// Number of the line in which a record begins, from 1. The reader's own count takes the second half of a line's end for a
/// part of the next line, and empty lines for a part of the next record.
pub(super) fn line_at(text: &[u8], start: usize) -> u64 {
    let blank = |byte: &u8| matches!(byte, b'\r' | b'\n');
    let start = start + text.iter().skip(start).take_while(|byte| blank(byte)).count();
    1 + text.iter().take(start).filter(|byte| **byte == b'\n').count() as u64
}
