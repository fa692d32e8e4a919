//! Strokes and samples as Parquet tables, for `DuckDB`, Polars, Spark and the like. Each column
//! carries its unit in the metadata of its Arrow field (`unit`), and in its name.

use crate::pipeline::Findings;
use crate::units::{Pressure, Time};
use arrow_array::{ArrayRef, BooleanArray, Float64Array, RecordBatch, StringArray, UInt32Array};
use arrow_schema::{DataType, Field, Schema};
use parquet::arrow::ArrowWriter;
use parquet::basic::Compression;
use parquet::file::properties::WriterProperties;
use std::io::Write;
use std::sync::Arc;

/// Why a table could not be written.
#[derive(Debug, thiserror::Error)]
pub enum ColumnsError {
    /// The file could not be written.
    #[error("cannot write the table: {0}")]
    Parquet(#[from] parquet::errors::ParquetError),
    /// The columns do not fit: a fault of the program.
    #[error("cannot make the table: {0}")]
    Arrow(#[from] arrow_schema::ArrowError),
}

/// Rows that are gathered before they are written.
const ROWS: usize = 1 << 16;

fn column(name: &str, kind: DataType, unit: &str, nullable: bool) -> Field {
    let field = Field::new(name, kind, nullable);
    if unit.is_empty() {
        return field;
    }
    let metadata = std::collections::HashMap::from([("unit".to_owned(), unit.to_owned())]);
    field.with_metadata(metadata)
}

fn writer<W: Write + Send>(
    out: W,
    fields: Vec<Field>,
) -> Result<(ArrowWriter<W>, Arc<Schema>), ColumnsError> {
    let schema = Arc::new(Schema::new(fields));
    let properties = WriterProperties::builder()
        .set_compression(Compression::SNAPPY)
        .set_created_by(format!("needlerest {}", env!("CARGO_PKG_VERSION")))
        .build();
    Ok((
        ArrowWriter::try_new(out, schema.clone(), Some(properties))?,
        schema,
    ))
}

/// Every stroke of every run, one a row.
///
/// # Errors
/// If it cannot be written.
pub fn strokes<W: Write + Send>(out: W, findings: &Findings) -> Result<(), ColumnsError> {
    use DataType::{Boolean, Float64, UInt32, Utf8};
    let (mut writer, schema) = writer(
        out,
        vec![
            column("run", UInt32, "", false),
            column("cylinder", Utf8, "", false),
            column("condition", Utf8, "", false),
            column("void", Boolean, "", false),
            column("stroke", UInt32, "", false),
            column("time_s", Float64, "s", false),
            column("peak_pa", Float64, "Pa", false),
            column("rise_pa", Float64, "Pa", false),
            column("interval_s", Float64, "s", true),
            column("cut_off_pa", Float64, "Pa", false),
            column("packets_missing", Boolean, "", false),
            column("clipped", Boolean, "", false),
        ],
    )?;
    let rows: Vec<_> = findings
        .runs
        .iter()
        .enumerate()
        .flat_map(|(n, run)| {
            run.result
                .strokes
                .iter()
                .map(move |stroke| (n as u32 + 1, run, stroke))
        })
        .collect();
    let columns: Vec<ArrayRef> = vec![
        Arc::new(rows.iter().map(|r| Some(r.0)).collect::<UInt32Array>()),
        Arc::new(
            rows.iter()
                .map(|r| Some(r.1.cylinder.as_str()))
                .collect::<StringArray>(),
        ),
        Arc::new(
            rows.iter()
                .map(|r| Some(r.1.condition.label()))
                .collect::<StringArray>(),
        ),
        Arc::new(
            rows.iter()
                .map(|r| Some(r.1.void))
                .collect::<BooleanArray>(),
        ),
        Arc::new(
            rows.iter()
                .map(|r| Some(r.2.number))
                .collect::<UInt32Array>(),
        ),
        Arc::new(
            rows.iter()
                .map(|r| Some(r.2.time.s()))
                .collect::<Float64Array>(),
        ),
        Arc::new(
            rows.iter()
                .map(|r| Some(r.2.peak.pa()))
                .collect::<Float64Array>(),
        ),
        Arc::new(
            rows.iter()
                .map(|r| Some(r.2.rise.pa()))
                .collect::<Float64Array>(),
        ),
        Arc::new(
            rows.iter()
                .map(|r| r.2.interval.map(Time::s))
                .collect::<Float64Array>(),
        ),
        Arc::new(
            rows.iter()
                .map(|r| Some(r.2.cut_off.pa()))
                .collect::<Float64Array>(),
        ),
        Arc::new(
            rows.iter()
                .map(|r| Some(r.2.packets_missing))
                .collect::<BooleanArray>(),
        ),
        Arc::new(
            rows.iter()
                .map(|r| Some(r.2.clipped))
                .collect::<BooleanArray>(),
        ),
    ];
    writer.write(&RecordBatch::try_new(schema, columns)?)?;
    writer.close()?;
    Ok(())
}

/// A sample as it goes into the table.
#[derive(Clone, Copy, Debug)]
pub struct SampleRow {
    /// The run it belongs to, counted from 1.
    pub run: Option<u32>,
    /// On the stream's clock.
    pub time: Time,
    /// As the sensor gave it.
    pub pressure: Pressure,
    /// The sensor was at the end of its range.
    pub out_of_range: bool,
    /// Samples are missing before it.
    pub gap_before: bool,
}

/// The table of samples, written as they come, in bounded memory.
pub struct SampleTable<W: Write + Send> {
    writer: ArrowWriter<W>,
    schema: Arc<Schema>,
    rows: Vec<SampleRow>,
}

impl<W: Write + Send> SampleTable<W> {
    /// Begins a table.
    ///
    /// # Errors
    /// If it cannot be written.
    pub fn new(out: W) -> Result<Self, ColumnsError> {
        let (writer, schema) = writer(
            out,
            vec![
                column("run", DataType::UInt32, "", true),
                column("time_s", DataType::Float64, "s", false),
                column("pressure_pa", DataType::Float64, "Pa", false),
                column("out_of_range", DataType::Boolean, "", false),
                column("gap_before", DataType::Boolean, "", false),
            ],
        )?;
        Ok(Self {
            writer,
            schema,
            rows: Vec::with_capacity(ROWS),
        })
    }

    /// Adds a sample.
    ///
    /// # Errors
    /// If it cannot be written.
    pub fn push(&mut self, row: SampleRow) -> Result<(), ColumnsError> {
        self.rows.push(row);
        if self.rows.len() == ROWS {
            self.flush()
        } else {
            Ok(())
        }
    }

    fn flush(&mut self) -> Result<(), ColumnsError> {
        let rows = &self.rows;
        let columns: Vec<ArrayRef> = vec![
            Arc::new(rows.iter().map(|r| r.run).collect::<UInt32Array>()),
            Arc::new(
                rows.iter()
                    .map(|r| Some(r.time.s()))
                    .collect::<Float64Array>(),
            ),
            Arc::new(
                rows.iter()
                    .map(|r| Some(r.pressure.pa()))
                    .collect::<Float64Array>(),
            ),
            Arc::new(
                rows.iter()
                    .map(|r| Some(r.out_of_range))
                    .collect::<BooleanArray>(),
            ),
            Arc::new(
                rows.iter()
                    .map(|r| Some(r.gap_before))
                    .collect::<BooleanArray>(),
            ),
        ];
        self.writer
            .write(&RecordBatch::try_new(self.schema.clone(), columns)?)?;
        self.rows.clear();
        Ok(())
    }

    /// Ends the table.
    ///
    /// # Errors
    /// If it cannot be written.
    pub fn finish(mut self) -> Result<(), ColumnsError> {
        self.flush()?;
        self.writer.close()?;
        Ok(())
    }
}
