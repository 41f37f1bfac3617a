//! Tables as this program writes them, read row by row.

use std::collections::HashMap;
use std::io::Cursor;
use std::path::PathBuf;
use std::sync::Arc;

use super::ReadError;
use crate::table::by_hand::line_at;
use crate::table::plain;
use crate::table::sheet::Sheet;

/// A CSV file that is read row by row, with commas and points or with semicolons and decimal commas.
pub(crate) struct Table {
    path: PathBuf,
    text: Arc<[u8]>,
    reader: csv::Reader<Cursor<Arc<[u8]>>>,
    header: Vec<String>,
    columns: HashMap<String, usize>,
    has_decimal_comma: bool,
}

/// One row of it.
pub(crate) struct TableRow<'a> {
    table: &'a Table,
    record: csv::StringRecord,
    /// Number of its line in the file.
    line: u64,
}

impl Table {
    /// Opens a file and reads its header.
    ///
    /// # Errors
    /// [`ReadError`] where it can't be read or has no header.
    pub fn open(path: PathBuf) -> Result<Self, ReadError> {
        let text = std::fs::read(&path).map_err(|source| ReadError::Open { path: path.clone(), source })?;
        let header = text.split(|byte| *byte == b'\n').next().unwrap_or_default();
        let has_decimal_comma = header.contains(&b';');
        let delimiter = if has_decimal_comma { b';' } else { b',' };
        let text: Arc<[u8]> = text.into();
        let mut reader =
            csv::ReaderBuilder::new().delimiter(delimiter).from_reader(Cursor::new(text.clone()));
        let header = reader
            .headers()
            .map_err(|error| ReadError::Form { path: path.clone(), why: error.to_string() })?;
        // A spreadsheet may have put a byte-order mark in front.
        let header: Vec<String> =
            header.iter().map(|name| name.trim_start_matches('\u{feff}').to_owned()).collect();
        let columns = header.iter().cloned().zip(0..).collect();
        Ok(Self { path, text, reader, header, columns, has_decimal_comma })
    }

    /// Whether it has the columns of a sheet, and no others, in their order.
    pub fn is_of<R>(&self, sheet: &Sheet<R>) -> bool {
        self.header == sheet.header()
    }

    /// The next row.
    ///
    /// # Errors
    /// [`ReadError::Form`] for a row that has more or fewer cells than the header.
    pub fn next_row(&mut self) -> Result<Option<TableRow<'_>>, ReadError> {
        let mut record = csv::StringRecord::new();
        let more = self.reader.read_record(&mut record);
        let more =
            more.map_err(|error| ReadError::Form { path: self.path.clone(), why: error.to_string() })?;
        let line = record.position().map_or(0, |position| line_at(&self.text, position.byte() as usize));
        Ok(more.then_some(TableRow { line, table: self, record }))
    }
}

impl TableRow<'_> {
    /// What is wrong with the row, as an error.
    pub fn wrong(&self, why: String) -> ReadError {
        ReadError::Form { path: self.table.path.clone(), why: format!("line {}: {why}", self.line) }
    }

    /// A cell's words without the apostrophe that keeps spreadsheets from taking them for a formula; `None` for an empty
    /// cell and for a column that isn't there.
    pub fn text(&self, column: &str) -> Option<String> {
        let cell = self.record.get(*self.table.columns.get(column)?)?;
        Some(plain(cell).to_owned()).filter(|words| !words.is_empty())
    }

    /// A cell that may not be empty.
    ///
    /// # Errors
    /// [`ReadError::Form`] where it is empty.
    pub fn need(&self, column: &str) -> Result<String, ReadError> {
        self.text(column).ok_or_else(|| self.wrong(format!("no {column}")))
    }

    /// A cell's number as it was written, with a decimal point; `None` for an empty cell.
    pub fn digits(&self, column: &str) -> Option<String> {
        let text = self.text(column)?;
        Some(if self.table.has_decimal_comma { text.replace(',', ".") } else { text })
    }

    /// A cell's number; `None` for an empty cell.
    ///
    /// # Errors
    /// [`ReadError::Form`] for what is no number.
    pub fn number(&self, column: &str) -> Result<Option<f64>, ReadError> {
        let Some(text) = self.digits(column) else { return Ok(None) };
        match text.parse::<f64>() {
            Ok(value) if value.is_finite() => Ok(Some(value)),
            _ => Err(self.wrong(format!("{column}: `{text}` is no number"))),
        }
    }

    /// A cell's whole number.
    ///
    /// # Errors
    /// [`ReadError::Form`] for what is no such number.
    pub fn whole(&self, column: &str) -> Result<usize, ReadError> {
        let text = self.need(column)?;
        text.parse().map_err(|_| self.wrong(format!("{column}: `{text}` is no whole number")))
    }
}
