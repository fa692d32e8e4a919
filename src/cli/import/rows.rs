//! The rows of one column of pressures: in order of time, with what is missing and what was left
//! out.

use super::cells::{TimeUnit, moment, number};
use super::found::{Lack, Table};

/// A pressure and when it was.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Row {
    /// From the first row, in microseconds.
    pub t_us: u64,
    /// The number as it stands in the table, with a decimal point.
    pub pressure: String,
    /// Rows that are missing before it, by the usual step.
    pub missing_before: u32,
    line: u64,
}

/// One column of pressures.
#[derive(Clone, Debug)]
pub(super) struct Column {
    pub rows: Vec<Row>,
    /// What was left out or is missing, by line.
    pub troubles: Vec<(u64, String)>,
    /// When the first row was, if the table says.
    pub began: Option<jiff::Timestamp>,
    /// From one row to the next, usually, in microseconds.
    pub step_us: u64,
}

/// Fewer rows are no test of an engine.
const LEAST: usize = 10;
/// So many steps without a row are a gap.
const GAP: f64 = 2.5;

impl Column {
    /// Reads the column with this index among the wanted ones; the time's is 0.
    pub(super) fn read(table: &Table, index: usize, unit: TimeUnit) -> Result<Self, Lack> {
        let name = table.names.get(index).map_or("", String::as_str);
        let mut column = Self {
            rows: Vec::new(),
            troubles: Vec::new(),
            began: None,
            step_us: 0,
        };
        let (mut first, mut last) = (None, i64::MIN);
        let mut repeated = 0;
        for row in &table.rows {
            let cell = |at: usize| row.cells.get(at).map_or("", String::as_str);
            // A cylinder's column is empty where another's is not.
            if cell(index).is_empty() {
                continue;
            }
            let mut leave_out = |what: String| column.troubles.push((row.line, what));
            let Some(time) = moment(cell(0), table.decimal, unit) else {
                leave_out(format!(
                    "\"{}\" is no time; the row is left out",
                    short(cell(0))
                ));
                continue;
            };
            let Some(pressure) = number(cell(index), table.decimal) else {
                let cell = short(cell(index));
                leave_out(format!("\"{cell}\" in {name} is no number; it is left out"));
                continue;
            };
            if first.is_some() && time.us == last {
                repeated += 1;
                leave_out(format!(
                    "the time {} once more; the row is left out",
                    cell(0)
                ));
                continue;
            }
            if time.us < last {
                leave_out(format!(
                    "the time {} goes back; the row is left out",
                    cell(0)
                ));
                continue;
            }
            if first.is_none() {
                column.began = time.at;
            }
            let begins = *first.get_or_insert(time.us);
            last = time.us;
            column.rows.push(Row {
                t_us: time.us.abs_diff(begins),
                pressure,
                missing_before: 0,
                line: row.line,
            });
        }
        column.is_enough(name, repeated)?;
        column.find_gaps();
        Ok(column)
    }

    fn is_enough(&self, name: &str, repeated: usize) -> Result<(), Lack> {
        if repeated > self.rows.len() {
            return Err(Lack {
                what: format!("{repeated} rows repeat the time of the row before"),
                remedy: "name a time column that tells each row's own time, or export it with \
                         more digits",
            });
        }
        if self.rows.len() < LEAST {
            return Err(Lack {
                what: format!(
                    "{} rows of {name} can be used{}",
                    self.rows.len(),
                    self.troubles
                        .first()
                        .map_or(String::new(), |(line, what)| format!(
                            "; line {line}: {what}"
                        ))
                ),
                remedy: "see that --time and --pressure name the right columns, and --decimal \
                         the right mark",
            });
        }
        Ok(())
    }

    fn find_gaps(&mut self) {
        let mut steps: Vec<u64> = self
            .rows
            .windows(2)
            .map(|pair| pair[1].t_us - pair[0].t_us)
            .collect();
        steps.sort_unstable();
        self.step_us = steps.get(steps.len() / 2).copied().unwrap_or(1).max(1);
        let step = self.step_us as f64;
        let mut before = 0;
        for row in &mut self.rows {
            let away = (row.t_us - before) as f64;
            before = row.t_us;
            if away < GAP * step {
                continue;
            }
            row.missing_before = ((away / step).round() - 1.0).clamp(1.0, 1e6) as u32;
            let what = format!(
                "nothing for {:.3} s before it, where rows are usually {:.4} s apart",
                away / 1e6,
                step / 1e6
            );
            self.troubles.push((row.line, what));
        }
    }
}

fn short(cell: &str) -> String {
    cell.chars().take(40).collect()
}
