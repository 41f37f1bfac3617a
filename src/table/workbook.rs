//! One workbook with a sheet for each table and one with the definitions of all columns.
//!
//! Text goes in as text and numbers as numbers: nothing in such a file can become a formula.

use std::path::Path;

use rust_xlsxwriter::{
    DocProperties, ExcelDateTime, Format, FormatAlign, Workbook as Book, Worksheet, XlsxError,
};

use super::TableError;
use super::cell::Cell;
use super::sheet::{Field, Kind, Sheet};
use crate::measure::Measure;

/// Columns are no wider than this, characters.
const WIDEST: usize = 40;

/// The headers' rows: names, and units below them.
const HEADER_ROWS: u32 = 2;

/// A workbook that is being filled. What goes wrong is kept until it is saved.
pub struct Workbook {
    book: Book,
    fields: Vec<(&'static str, Field)>,
    outcome: Result<(), XlsxError>,
}

impl Default for Workbook {
    fn default() -> Self {
        Self::new()
    }
}

impl Workbook {
    /// An empty workbook.
    pub fn new() -> Self {
        let mut book = Book::new();
        // The file's date would differ from run to run: the same results are to be the same bytes.
        if let Ok(always) = ExcelDateTime::from_ymd(2000, 1, 1) {
            book.set_properties(&DocProperties::new().set_creation_datetime(&always));
        }
        Self { book, fields: Vec::new(), outcome: Ok(()) }
    }

    /// Adds a table as a sheet of its own.
    pub fn add<R>(&mut self, sheet: &Sheet<R>, rows: impl IntoIterator<Item = R>) {
        let fields: Vec<&Field> = sheet.columns.iter().map(|column| &column.field).collect();
        self.fields.extend(fields.iter().map(|field| (sheet.name, (*field).clone())));
        let cells: Vec<Vec<Cell>> = rows.into_iter().map(|row| sheet.cells(&row).collect()).collect();
        if self.outcome.is_ok() {
            self.outcome = write(self.book.add_worksheet(), sheet.name, &fields, &cells);
        }
    }

    /// Adds the definitions and writes the file.
    ///
    /// # Errors
    /// [`TableError::Write`].
    pub fn save(mut self, path: &Path) -> Result<(), TableError> {
        let definitions = std::mem::take(&mut self.fields);
        if self.outcome.is_ok() {
            self.outcome = define(self.book.add_worksheet(), &definitions);
        }
        let fail = |error: XlsxError| TableError::Write {
            path: path.to_owned(),
            source: std::io::Error::other(error.to_string()),
        };
        self.outcome.map_err(fail)?;
        self.book.save(path).map_err(fail)
    }
}

fn write(sheet: &mut Worksheet, name: &str, fields: &[&Field], rows: &[Vec<Cell>]) -> Result<(), XlsxError> {
    let (bold, grey) = (heading(), Format::new().set_italic().set_font_color(0x005C_626B));
    sheet.set_name(name)?;
    sheet.set_freeze_panes(HEADER_ROWS, 0)?;
    for (column, field) in (0u16..).zip(fields) {
        sheet.write_string_with_format(0, column, &field.name, &bold)?;
        sheet.write_string_with_format(1, column, field.unit.unwrap_or_default(), &grey)?;
        let widest =
            rows.iter().filter_map(|row| row.get(usize::from(column)).map(length)).max().unwrap_or(0);
        sheet.set_column_width(column, (widest.max(field.name.chars().count()) + 2).min(WIDEST) as f64)?;
    }
    for (row, cells) in (HEADER_ROWS..).zip(rows) {
        for ((column, cell), field) in (0u16..).zip(cells).zip(fields) {
            put(sheet, row, column, cell, field.kind)?;
        }
    }
    Ok(())
}

fn put(sheet: &mut Worksheet, row: u32, column: u16, cell: &Cell, kind: Kind) -> Result<(), XlsxError> {
    match cell {
        Cell::Empty => {}
        Cell::Number(digits) => match digits.parse::<f64>() {
            Ok(value) => {
                let decimals = digits.split_once('.').map_or(0, |(_, broken)| broken.len());
                let shape =
                    if decimals == 0 { "0".to_owned() } else { format!("0.{}", "0".repeat(decimals)) };
                sheet.write_number_with_format(row, column, value, &Format::new().set_num_format(shape))?;
            }
            Err(_) => {
                sheet.write_string(row, column, digits)?;
            }
        },
        Cell::Text(words) => match ExcelDateTime::parse_from_str(words) {
            Ok(day) if kind == Kind::Date => {
                let shape = Format::new().set_num_format("yyyy-mm-dd");
                sheet.write_datetime_with_format(row, column, &day, &shape)?;
            }
            _ => {
                sheet.write_string(row, column, words)?;
            }
        },
    }
    Ok(())
}

fn length(cell: &Cell) -> usize {
    match cell {
        Cell::Empty => 0,
        Cell::Text(words) | Cell::Number(words) => words.chars().count(),
    }
}

fn heading() -> Format {
    Format::new().set_bold().set_background_color(0x00EA_ECEF)
}

/// The sheet that says what every column is; measures with their views, sources and grades.
fn define(sheet: &mut Worksheet, fields: &[(&'static str, Field)]) -> Result<(), XlsxError> {
    const COLUMNS: [(&str, f64); 9] = [
        ("table", 12.0),
        ("column", 32.0),
        ("title", 36.0),
        ("unit", 8.0),
        ("definition", 90.0),
        ("views", 20.0),
        ("good_up_to", 12.0),
        ("fair_up_to", 12.0),
        ("source", 40.0),
    ];
    let wrapped = Format::new().set_text_wrap().set_align(FormatAlign::Top);
    sheet.set_name("definitions")?;
    sheet.set_freeze_panes(1, 0)?;
    for (column, (name, width)) in (0u16..).zip(COLUMNS) {
        sheet.write_string_with_format(0, column, name, &heading())?;
        sheet.set_column_width(column, width)?;
    }
    for (row, (table, field)) in (1u32..).zip(fields) {
        let title = field.title.clone().unwrap_or_default();
        let mut words = vec![(*table).to_owned(), field.name.clone(), title];
        words.extend([field.unit.unwrap_or_default().to_owned(), field.description.clone()]);
        let measure = Measure::find(&field.name);
        words.push(
            measure.map_or_else(String::new, |m| {
                m.views.iter().map(|v| v.name()).collect::<Vec<_>>().join(", ")
            }),
        );
        for (column, text) in (0u16..).zip(words) {
            sheet.write_string_with_format(row, column, text, &wrapped)?;
        }
        if let Some(measure) = measure {
            let top = Format::new().set_align(FormatAlign::Top);
            sheet.write_number_with_format(row, 6, measure.grades.0, &top)?;
            sheet.write_number_with_format(row, 7, measure.grades.1, &top)?;
            sheet.write_string_with_format(row, 8, measure.source, &wrapped)?;
        }
    }
    Ok(())
}
