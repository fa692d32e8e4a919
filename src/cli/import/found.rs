//! What a table is like: its separator, its heading, its decimal mark; given or found.

use std::borrow::Cow;

/// What separates columns.
#[derive(Clone, Copy, Debug, PartialEq, Eq, clap::ValueEnum)]
pub(super) enum Separator {
    Comma,
    Semicolon,
    Tab,
    Bar,
}

impl Separator {
    /// A comma may be a decimal mark, so the others are tried before it.
    const ALL: [Self; 4] = [Self::Semicolon, Self::Tab, Self::Bar, Self::Comma];

    const fn byte(self) -> u8 {
        match self {
            Self::Comma => b',',
            Self::Semicolon => b';',
            Self::Tab => b'\t',
            Self::Bar => b'|',
        }
    }
}

/// What stands between whole and broken part of a number.
#[derive(Clone, Copy, Debug, PartialEq, Eq, clap::ValueEnum)]
pub(super) enum Decimal {
    Point,
    Comma,
}

/// What is asked of a table.
pub(super) struct Asked<'a> {
    /// The time's column, then those of pressures.
    pub columns: Vec<&'a str>,
    pub separator: Option<Separator>,
    pub decimal: Option<Decimal>,
}

/// Why a table cannot be read.
pub(super) struct Lack {
    pub what: String,
    pub remedy: &'static str,
}

/// A row: its line in the file, and the cells that were asked for.
pub(super) struct Row {
    pub line: u64,
    pub cells: Vec<String>,
}

/// A table, the wanted columns of it.
pub(super) struct Table {
    pub rows: Vec<Row>,
    pub decimal: Decimal,
    /// How the columns are called, for messages.
    pub names: Vec<String>,
}

/// Lines before the heading that a logger may write about itself.
const PREAMBLE: usize = 200;

impl Table {
    pub(super) fn read(bytes: &[u8], wanted: &Asked<'_>) -> Result<Self, Lack> {
        if bytes.starts_with(&[0xFF, 0xFE]) || bytes.starts_with(&[0xFE, 0xFF]) {
            return Err(Lack {
                what: "the table is text in UTF-16".to_owned(),
                remedy: "save it as UTF-8 (\"CSV UTF-8\" in spreadsheet programs)",
            });
        }
        // Headings may hold a degree sign of another encoding; numbers do not.
        let text: Cow<'_, str> = String::from_utf8_lossy(bytes);
        let text = text.trim_start_matches('\u{feff}');
        let separators = match &wanted.separator {
            Some(one) => std::slice::from_ref(one),
            None => &Separator::ALL,
        };
        let found = separators
            .iter()
            .find_map(|separator| with(text, *separator, wanted));
        let (rows, names) = found.ok_or_else(|| not_found(text, wanted))?;
        let decimal = match wanted.decimal {
            Some(given) => given,
            None => decimal(&rows)?,
        };
        Ok(Self {
            rows,
            decimal,
            names,
        })
    }
}

/// The rows below the heading, if with this separator there is a heading with all wanted columns,
/// or, where columns are called by number, rows with so many.
fn with(text: &str, separator: Separator, wanted: &Asked<'_>) -> Option<(Vec<Row>, Vec<String>)> {
    let mut reader = csv::ReaderBuilder::new()
        .delimiter(separator.byte())
        .has_headers(false)
        .flexible(true)
        .trim(csv::Trim::All)
        .from_reader(text.as_bytes());
    let mut places: Option<Vec<usize>> = None;
    let mut names = Vec::new();
    let mut rows = Vec::new();
    for (index, record) in reader.records().enumerate() {
        let Ok(record) = record else { continue };
        let Some(places) = &places else {
            if index > PREAMBLE {
                return None;
            }
            places = heading(&record, wanted);
            let Some(at) = &places else { continue };
            names = wanted
                .columns
                .iter()
                .map(|name| (*name).to_owned())
                .collect();
            // Without a heading the first row is one of numbers.
            let is_row = at.iter().all(|at| record.get(*at).is_some_and(is_number));
            if is_row {
                rows.push(row(&record, at));
            }
            continue;
        };
        rows.push(row(&record, places));
    }
    places.map(|_| (rows, names))
}

fn row(record: &csv::StringRecord, places: &[usize]) -> Row {
    let cell = |at: &usize| record.get(*at).unwrap_or_default().to_owned();
    Row {
        line: record.position().map_or(0, csv::Position::line),
        cells: places.iter().map(cell).collect(),
    }
}

/// Where the wanted columns are, if this row is the heading that names them or, where all are
/// called by number, a row of numbers that has them.
fn heading(record: &csv::StringRecord, wanted: &Asked<'_>) -> Option<Vec<usize>> {
    let named = |name: &str| {
        let name = name.trim();
        record
            .iter()
            .position(|cell| cell.eq_ignore_ascii_case(name))
    };
    let is_heading = wanted.columns.iter().any(|name| named(name).is_some());
    let numbered = |name: &str| {
        let at = name.parse::<usize>().ok()?.checked_sub(1)?;
        let cell = record.get(at)?;
        // One column may be a number by chance; a row of data has several.
        (is_heading || record.len() > 1 && is_number(cell)).then_some(at)
    };
    let place = |name: &&str| named(name).or_else(|| numbered(name));
    wanted.columns.iter().map(place).collect()
}

/// A number, or a time.
fn is_number(cell: &str) -> bool {
    cell.bytes().any(|byte| byte.is_ascii_digit())
        && cell
            .bytes()
            .all(|byte| byte.is_ascii_digit() || b"+-.,eE:TZ /".contains(&byte))
}

fn not_found(text: &str, wanted: &Asked<'_>) -> Lack {
    let first: String = text
        .lines()
        .next()
        .unwrap_or_default()
        .chars()
        .take(120)
        .collect();
    let named: Vec<String> = wanted
        .columns
        .iter()
        .map(|name| format!("\"{name}\""))
        .collect();
    Lack {
        what: format!(
            "no row has all the columns {}; the first line is: {first}",
            named.join(", ")
        ),
        remedy: "call the columns as the heading does, or by their numbers from 1; give \
                 --separator if it is none of comma, semicolon, tab and bar that fits",
    }
}

/// A comma in a pressure or time is a decimal mark, unless there are points as well.
fn decimal(rows: &[Row]) -> Result<Decimal, Lack> {
    let cells = || rows.iter().flat_map(|row| &row.cells);
    // A date with time is no number.
    let has = |mark: char| cells().any(|cell| cell.contains(mark) && !cell.contains(':'));
    match (has(','), has('.')) {
        (false, _) => Ok(Decimal::Point),
        (true, false) => Ok(Decimal::Comma),
        (true, true) => Err(Lack {
            what: "some numbers have a comma and some a point".to_owned(),
            remedy: "say which is the decimal mark with --decimal; numbers with marks between \
                     thousands cannot be read",
        }),
    }
}
