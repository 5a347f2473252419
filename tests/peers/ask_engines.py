#!/usr/bin/env python3
"""The worked queries on the Parquet data set of `seep export`, by DuckDB and by
DataFusion: both must give the same table. Prints it as JSON.

    python3 ask_engines.py ROWS_FOLDER
"""

import json
import math
import pathlib
import sys

import datafusion
import duckdb
import pyarrow

QUERIES = pathlib.Path(__file__).parent / "queries"


def by_duckdb(folder, text):
    files = f"{folder}/*/*/*.parquet".replace("'", "''")
    readings = f"CREATE VIEW readings AS SELECT * FROM read_parquet('{files}', hive_partitioning = true, union_by_name = true)"
    engine = duckdb.connect()
    engine.execute(readings)
    return engine.execute(text).fetchall()


def by_datafusion(folder, text):
    engine = datafusion.SessionContext()
    parts = [("vehicle", pyarrow.string()), ("day", pyarrow.string())]
    engine.register_listing_table("readings", str(folder), table_partition_cols=parts, file_extension=".parquet")
    return [tuple(row.values()) for batch in engine.sql(text).collect() for row in batch.to_pylist()]


def same(a, b):
    if isinstance(a, float) or isinstance(b, float):
        return math.isclose(a, b, rel_tol=1e-6, abs_tol=1e-9)
    return str(a) == str(b)


def main():
    folder, answers = sys.argv[1], {}
    for query in sorted(QUERIES.glob("*.sql")):
        text = query.read_text()
        one, other = by_duckdb(folder, text), by_datafusion(folder, text)
        if len(one) != len(other) or not all(same(a, b) for x, y in zip(one, other) for a, b in zip(x, y)):
            sys.exit(f"{query.name}: DuckDB and DataFusion differ\n{one}\n{other}")
        answers[query.stem] = [[v if isinstance(v, (int, float)) else str(v) for v in row] for row in one]
    json.dump(answers, sys.stdout)
    print()


if __name__ == "__main__":
    main()
