//! `datapackage.json`: the data dictionary of the tables (Data Package and Table Schema, version 2).

use serde::Serialize;

use super::cell::Decimal;
use super::sheet::{Field, Kind, Sheet};
use super::{frames, measures, phases, strokes};

/// The data dictionary.
#[derive(Debug, Serialize)]
pub struct Package {
    #[serde(rename = "$schema")]
    profile: &'static str,
    name: &'static str,
    title: &'static str,
    description: &'static str,
    version: &'static str,
    resources: Vec<Resource>,
}

#[derive(Debug, Serialize)]
struct Resource {
    name: &'static str,
    #[serde(rename = "type")]
    kind: &'static str,
    path: String,
    title: &'static str,
    description: &'static str,
    format: &'static str,
    mediatype: &'static str,
    encoding: &'static str,
    #[serde(skip_serializing_if = "Option::is_none")]
    dialect: Option<Dialect>,
    schema: Schema,
}

#[derive(Debug, Serialize)]
struct Dialect {
    delimiter: char,
}

#[derive(Debug, Serialize)]
#[serde(rename_all = "camelCase")]
struct Schema {
    fields: Vec<Field>,
    missing_values: [&'static str; 1],
    #[serde(skip_serializing_if = "<[_]>::is_empty")]
    primary_key: &'static [&'static str],
    #[serde(skip_serializing_if = "Vec::is_empty")]
    foreign_keys: Vec<ForeignKey>,
}

#[derive(Debug, Serialize)]
struct ForeignKey {
    fields: [&'static str; 2],
    reference: Reference,
}

#[derive(Debug, Serialize)]
struct Reference {
    resource: &'static str,
    fields: [&'static str; 2],
}

impl Package {
    /// The dictionary of a clip's tables.
    pub fn of_clip(decimal: Decimal) -> Self {
        Self {
            profile: "https://datapackage.org/profiles/2.0/datapackage.json",
            name: "toeline-clip",
            title: "Strokes of a tennis practice clip",
            description: "Tables written by toeline. `unit` holds a UCUM code. Every value describes movement in one \
                          camera's view; its uncertainty is in measures.csv.",
            version: env!("CARGO_PKG_VERSION"),
            resources: vec![
                resource(&strokes::sheet(), decimal),
                resource(&phases::sheet(), decimal),
                resource(&measures::sheet(), decimal),
                resource(&frames::sheet(), decimal),
            ],
        }
    }
}

impl Package {
    /// The dictionary of a season's tables.
    pub fn of_season<A, B, C, D>(
        strokes: &Sheet<A>,
        measures: &Sheet<B>,
        sessions: &Sheet<C>,
        clips: &Sheet<D>,
        decimal: Decimal,
    ) -> Self {
        let resources = vec![
            resource(strokes, decimal),
            resource(measures, decimal),
            resource(sessions, decimal),
            resource(clips, decimal),
        ];
        Self {
            name: "toeline-season",
            title: "Strokes of a season of tennis practice",
            resources,
            ..Self::of_clip(decimal)
        }
    }
}

impl Package {
    /// The dictionary of a comparison's table.
    pub fn of_comparison<R>(comparison: &Sheet<R>) -> Self {
        Self {
            name: "toeline-compare",
            title: "Two sessions of tennis practice compared",
            resources: vec![resource(comparison, Decimal::Point)],
            ..Self::of_clip(Decimal::Point)
        }
    }
}

fn resource<R>(sheet: &Sheet<R>, decimal: Decimal) -> Resource {
    const KEY: [&str; 2] = ["clip", "stroke"];
    let to_strokes = ForeignKey { fields: KEY, reference: Reference { resource: "strokes", fields: KEY } };
    Resource {
        name: sheet.name,
        kind: "table",
        path: sheet.file(),
        title: sheet.title,
        description: sheet.description,
        format: "csv",
        mediatype: "text/csv",
        encoding: "utf-8",
        dialect: (decimal == Decimal::Comma).then(|| Dialect { delimiter: char::from(decimal.delimiter()) }),
        schema: Schema {
            fields: sheet.columns.iter().map(|column| field(&column.field, decimal)).collect(),
            missing_values: [""],
            primary_key: sheet.key,
            foreign_keys: if sheet.of_strokes { vec![to_strokes] } else { Vec::new() },
        },
    }
}

fn field(field: &Field, decimal: Decimal) -> Field {
    let comma = decimal == Decimal::Comma && field.kind == Kind::Number;
    Field { decimal_char: comma.then_some(","), ..field.clone() }
}
