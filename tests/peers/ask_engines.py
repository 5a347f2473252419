#!/usr/bin/env python3
"""The worked queries on the Parquet data set of `seep export`, by engines that are not
ours: DuckDB and DataFusion run the SQL of `queries/`, polars the same written anew in its
expressions, and with --spark Apache Spark runs the SQL on a cluster of two workers. All
must give the same tables. Prints them as JSON, with the seconds each engine took on
standard error.

    python3 ask_engines.py [--spark] ROWS_FOLDER
"""

import json
import math
import pathlib
import sys
import time

import datafusion
import duckdb
import pyarrow

from polars_queries import by_polars

QUERIES = pathlib.Path(__file__).parent / "queries"


def by_duckdb(folder, query):
    files = f"{folder}/*/*/*.parquet".replace("'", "''")
    readings = f"CREATE VIEW readings AS SELECT * FROM read_parquet('{files}', hive_partitioning = true, union_by_name = true)"
    engine = duckdb.connect()
    engine.execute(readings)
    return engine.execute(text_of(query)).fetchall()


def by_datafusion(folder, query):
    engine = datafusion.SessionContext()
    parts = [("vehicle", pyarrow.string()), ("day", pyarrow.string())]
    engine.register_listing_table("readings", str(folder), table_partition_cols=parts, file_extension=".parquet")
    return [tuple(row.values()) for batch in engine.sql(text_of(query)).collect() for row in batch.to_pylist()]


def text_of(query):
    return (QUERIES / f"{query}.sql").read_text()


def same(a, b):
    if isinstance(a, float) or isinstance(b, float):
        return math.isclose(a, b, rel_tol=1e-6, abs_tol=1e-9)
    return str(a) == str(b)


def same_tables(one, other):
    return len(one) == len(other) and all(same(a, b) for x, y in zip(one, other) for a, b in zip(x, y, strict=True))


def engines(spark):
    every = {"DuckDB": by_duckdb, "DataFusion": by_datafusion, "polars": by_polars}
    if spark:
        from spark_cluster import by_spark

        every["Spark"] = by_spark
    return every


def answer(folder, query, every):
    """The table that every engine gives."""
    tables = {}
    for name, ask in every.items():
        begin = time.monotonic()
        tables[name] = ask(folder, query)
        print(f"{query}: {name} {time.monotonic() - begin:.2f} s, {len(tables[name])} rows", file=sys.stderr)
    first, table = next(iter(tables.items()))
    for name, other in tables.items():
        if not same_tables(table, other):
            sys.exit(f"{query}: {first} and {name} differ\n{table[:5]}\n{other[:5]}")
    return [[v if isinstance(v, (int, float)) else str(v) for v in row] for row in table]


def main():
    arguments = [a for a in sys.argv[1:] if a != "--spark"]
    every = engines(spark="--spark" in sys.argv)
    queries = sorted(path.stem for path in QUERIES.glob("*.sql"))
    json.dump({query: answer(arguments[0], query, every) for query in queries}, sys.stdout)
    print()


if __name__ == "__main__":
    main()
