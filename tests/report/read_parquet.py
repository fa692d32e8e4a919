"""Reads the Parquet tables back with two readers that know nothing of needlerest.

    pip install pyarrow==26.0.1 duckdb==2.0.1
    needlerest replay visit.jsonl --report report
    needlerest parquet visit.jsonl tables
    python read_parquet.py tables report/findings.json

Every stroke must equal the JSON bit for bit, every unit must stand in its column's metadata, and
there must be as many samples as the findings count.
"""
import json
import sys

import duckdb
import pyarrow.parquet as pq

tables, findings = sys.argv[1], json.load(open(sys.argv[2]))
strokes = pq.read_table(f"{tables}/strokes.parquet")
samples = pq.read_table(f"{tables}/samples.parquet")
passed = 0


def expect(good, what):
    global passed
    if not good:
        sys.exit(f"FAULT {what}")
    passed += 1


for table in (strokes, samples):
    for field in table.schema:
        unit = (field.metadata or {}).get(b"unit", b"").decode()
        wanted = {"_s": "s", "pa": "Pa"}.get(field.name[-2:], "")
        expect(unit == wanted, f"unit of {field.name} is {unit!r}, not {wanted!r}")

wanted = [
    (n + 1, run["cylinder"], stroke["number"], stroke["time_s"], stroke["peak_pa"], stroke["interval_s"])
    for n, run in enumerate(findings["runs"])
    for stroke in run["result"]["strokes"]
]
names = ["run", "cylinder", "stroke", "time_s", "peak_pa", "interval_s"]
expect(list(zip(*(strokes[name].to_pylist() for name in names))) == wanted, "strokes, read by pyarrow")
query = f"select {', '.join(names)} from '{tables}/strokes.parquet' order by run, stroke"
expect(duckdb.sql(query).fetchall() == wanted, "strokes, read by DuckDB")
expect(samples.num_rows == findings["sensor"]["packets"]["samples"], "number of samples")
times = samples["time_s"].to_pylist()
expect(all(a < b for a, b in zip(times, times[1:])), "samples in order of time")
for n, run in enumerate(findings["runs"]):
    query = f"select max(pressure_pa) from '{tables}/samples.parquet' where run = {n + 1}"
    highest, zero = duckdb.sql(query).fetchall()[0][0], run["result"]["zero"]["level_pa"]
    last = max(stroke["peak_pa"] for stroke in run["result"]["strokes"])
    expect(abs(highest - zero - last) < 0.01 * last, f"highest sample of run {n + 1}")
print(f"{passed} passed, 0 failed")
