//! A table's columns, defined once: the header, the cells and the schema all come from the same list.

use std::path::Path;

use serde::Serialize;

use super::TableError;
use super::cell::{Cell, Decimal};

/// What kind of values a column holds (types of Table Schema).
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Kind {
    /// Words.
    String,
    /// Whole numbers.
    Integer,
    /// Numbers.
    Number,
    /// A day, `YYYY-MM-DD`.
    Date,
}

/// Limits on a column's values.
#[derive(Debug, Clone, Default, Serialize)]
pub struct Constraints {
    /// Whether every row has a value.
    #[serde(skip_serializing_if = "std::ops::Not::not")]
    pub required: bool,
    /// The only values that occur.
    #[serde(rename = "enum", skip_serializing_if = "Vec::is_empty")]
    pub values: Vec<&'static str>,
    /// The smallest value.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub minimum: Option<f64>,
    /// The largest value.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub maximum: Option<f64>,
}

impl Constraints {
    fn is_none(&self) -> bool {
        !self.required && self.values.is_empty() && self.minimum.is_none() && self.maximum.is_none()
    }
}

/// A column as the schema describes it.
#[derive(Debug, Clone, Serialize)]
pub struct Field {
    /// The column's header.
    pub name: String,
    /// What kind of values it holds.
    #[serde(rename = "type")]
    pub kind: Kind,
    /// A few words, where there are any besides the description.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub title: Option<String>,
    /// What the values are.
    pub description: String,
    /// What stands between whole and broken, where that isn't a point.
    #[serde(skip_serializing_if = "Option::is_none", rename = "decimalChar")]
    pub decimal_char: Option<&'static str>,
    /// UCUM code of their unit.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub unit: Option<&'static str>,
    /// Limits on the values.
    #[serde(skip_serializing_if = "Constraints::is_none")]
    pub constraints: Constraints,
}

/// A column of a table whose rows are made from `R`.
pub struct Column<R> {
    /// What the schema says.
    pub field: Field,
    cell: Box<dyn Fn(&R) -> Cell>,
}

impl<R> Column<R> {
    /// A column with its header, kind, description, and how a row's cell is made.
    pub fn new(
        name: impl Into<String>,
        kind: Kind,
        description: impl Into<String>,
        cell: impl Fn(&R) -> Cell + 'static,
    ) -> Self {
        let field = Field {
            name: name.into(),
            kind,
            title: None,
            description: description.into(),
            decimal_char: None,
            unit: None,
            constraints: Constraints::default(),
        };
        Self { field, cell: Box::new(cell) }
    }

    /// With a title.
    pub fn titled(mut self, title: impl Into<String>) -> Self {
        self.field.title = Some(title.into());
        self
    }

    /// With a unit (UCUM code).
    pub fn in_unit(mut self, unit: &'static str) -> Self {
        self.field.unit = Some(unit);
        self
    }

    /// With a value in every row.
    pub fn required(mut self) -> Self {
        self.field.constraints.required = true;
        self
    }

    /// With a closed list of values.
    pub fn one_of(mut self, values: impl IntoIterator<Item = &'static str>) -> Self {
        self.field.constraints.values = values.into_iter().collect();
        self
    }

    /// With a smallest value.
    pub fn at_least(mut self, minimum: f64) -> Self {
        self.field.constraints.minimum = Some(minimum);
        self
    }

    /// With a largest value.
    pub fn at_most(mut self, maximum: f64) -> Self {
        self.field.constraints.maximum = Some(maximum);
        self
    }
}

/// A table: one CSV file and its entry in the data package.
pub struct Sheet<R> {
    /// Name of the file without its ending.
    pub name: &'static str,
    /// A few words.
    pub title: &'static str,
    /// What a row is.
    pub description: &'static str,
    /// Columns that together name a row.
    pub key: &'static [&'static str],
    /// Whether `clip` and `stroke` point to a row of `strokes.csv`.
    pub of_strokes: bool,
    /// The columns in order.
    pub columns: Vec<Column<R>>,
}

impl<R> Sheet<R> {
    /// Name of the file.
    pub fn file(&self) -> String {
        format!("{}.csv", self.name)
    }

    /// The headers in order.
    pub fn header(&self) -> Vec<&str> {
        self.columns.iter().map(|column| column.field.name.as_str()).collect()
    }

    /// The same table, made from cells that are there already, in the order of the columns.
    pub fn as_cells<'a>(&self) -> Sheet<&'a Vec<Cell>> {
        let columns = self.columns.iter().enumerate().map(|(place, column)| Column {
            field: column.field.clone(),
            cell: Box::new(move |row: &&Vec<Cell>| row.get(place).cloned().unwrap_or(Cell::Empty)),
        });
        Sheet {
            name: self.name,
            title: self.title,
            description: self.description,
            key: self.key,
            of_strokes: self.of_strokes,
            columns: columns.collect(),
        }
    }

    /// The cells of a row in order.
    pub fn cells<'a>(&'a self, row: &'a R) -> impl Iterator<Item = Cell> + 'a {
        self.columns.iter().map(move |column| (column.cell)(row))
    }

    /// A row as JSON: numbers as numbers, nothing for empty cells.
    pub fn object(&self, row: &R) -> serde_json::Map<String, serde_json::Value> {
        let name = |column: &Column<R>| column.field.name.clone();
        self.columns.iter().zip(self.cells(row)).map(|(column, cell)| (name(column), cell.json())).collect()
    }

    /// Writes the table into a folder: UTF-8, RFC 4180, one header row; with a comma in numbers, a semicolon between
    /// cells.
    ///
    /// # Errors
    /// [`TableError::Write`].
    pub fn write(
        &self,
        folder: &Path,
        rows: impl IntoIterator<Item = R>,
        decimal: Decimal,
    ) -> Result<(), TableError> {
        let path = folder.join(self.file());
        let fail = |source: csv::Error| TableError::Write { path: path.clone(), source: source.into() };
        let mut writer = csv::WriterBuilder::new()
            .terminator(csv::Terminator::CRLF)
            .delimiter(decimal.delimiter())
            .from_path(&path)
            .map_err(fail)?;
        writer.write_record(self.header()).map_err(fail)?;
        for row in rows {
            for cell in self.cells(&row) {
                writer.write_field(cell.written(decimal).as_bytes()).map_err(fail)?;
            }
            writer.write_record(None::<&[u8]>).map_err(fail)?;
        }
        writer.flush().map_err(|source| TableError::Write { path: path.clone(), source })
    }
}
