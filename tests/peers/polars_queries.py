"""The worked queries once more, written anew in the expressions of polars (its SQL has
neither slopes nor all the windows they need): lazy, streamed, in one process."""

import pathlib

import polars as pl

CORNERS = ["front_left", "front_right", "rear_left", "rear_right"]
OUTSIDE_KPA = 101.3


def slope(y, x):
    """Least-squares slope of y over x, from rows where both are known."""
    known = y.is_not_null() & x.is_not_null()
    return pl.cov(y.filter(known), x.filter(known)) / x.filter(known).var()


def leak_ranking(readings):
    last_drive = readings.filter(pl.col("vehicle_kmh") > 2).group_by("vehicle", "session").agg(drive_ms=pl.col("t_ms").max())
    rest = (
        readings.join(last_drive, on=["vehicle", "session"])
        .filter(pl.col("t_ms") > pl.col("drive_ms") + 120_000)
        .with_columns(hours=(pl.col("t_ms") - pl.col("drive_ms")) / 3.6e6)
    )
    losses = []
    for place in CORNERS:
        amount = (pl.col(f"{place}_kpa_gauge") + OUTSIDE_KPA) / (pl.col("ambient_c") + 273.15)
        found = (
            rest.with_columns(amount=amount).filter(pl.col("amount") > 0).group_by("vehicle", "session")
            .agg(
                percent_per_h=-100 * slope(pl.col("amount").log(), pl.col("hours")),
                length_h=pl.col("hours").max(),
                rows=pl.len(),
            )
            .filter(pl.col("rows") > 100)
        )
        losses.append(found.with_columns(place=pl.lit(place)))
    weight = pl.col("length_h") ** 3
    return (
        pl.concat(losses).group_by("vehicle", "place")
        .agg(percent_per_h=(pl.col("percent_per_h") * weight).sum() / weight.sum(), rests=pl.len())
        .sort(pl.col("percent_per_h").round(6), pl.col("vehicle"), pl.col("place"), descending=[True, False, False])
        .select("vehicle", "place", "percent_per_h", "rests")
    )


def duty_by_week(readings):
    car = ["vehicle", "session"]
    steps = readings.sort("t_ms").select(
        "vehicle",
        week=pl.col("day").cast(pl.String).str.to_date().dt.truncate("1w"),
        running=pl.col("compressor_1_on"),
        ms=pl.col("t_ms").shift(-1).over(car) - pl.col("t_ms"),
    )
    known = steps.filter(pl.col("running").is_not_null() & (pl.col("ms") <= 60_000))
    return (
        known.group_by("vehicle", "week")
        .agg(
            duty_percent=100 * (pl.col("running") * pl.col("ms")).sum() / pl.col("ms").sum(),
            known_hours=pl.col("ms").sum() / 3.6e6,
        )
        .sort("vehicle", "week")
    )


def drift_of_supply(readings):
    car = ["vehicle", "session"]
    known = readings.filter(pl.col("compressor_1_on").is_not_null() & pl.col("tank_kpa_gauge").is_not_null()).sort("t_ms")
    on, before = pl.col("compressor_1_on"), pl.col("compressor_1_on").shift(1).over(car)
    starts = (on == 1) & before.fill_null(0).eq(0)
    runs = (
        known.with_columns(
            run=starts.cast(pl.Int64).cum_sum().over(car),
            kpa_at_20_c=(pl.col("tank_kpa_gauge") + OUTSIDE_KPA) * 293.15 / (pl.col("ambient_c") + 273.15),
        )
        .filter((on == 1) & pl.col("tank_kpa_gauge").is_between(950, 1050))
        .group_by("vehicle", "session", "run")
        .agg(
            day=pl.col("t_ms").min() / 8.64e7,
            kpa_per_s=1000 * slope(pl.col("kpa_at_20_c"), (pl.col("t_ms") - pl.col("t_ms").min()).cast(pl.Float64)),
            rows=pl.len(),
        )
        .filter(pl.col("rows") >= 50)
    )
    return (
        runs.group_by("vehicle")
        .agg(
            kpa_per_s=pl.col("kpa_per_s").mean(),
            percent_per_week=700 * slope(pl.col("kpa_per_s"), pl.col("day")) / pl.col("kpa_per_s").mean(),
            runs=pl.len(),
        )
        .filter(pl.col("runs") >= 3)
        .sort("vehicle")
    )


QUERIES = {"leak_ranking": leak_ranking, "duty_by_week": duty_by_week, "drift_of_supply": drift_of_supply}


def by_polars(folder, query):
    """Rows of one worked query over the data set in a folder."""
    files = str(pathlib.Path(folder) / "*" / "*" / "*.parquet")
    readings = pl.scan_parquet(files, hive_partitioning=True, missing_columns="insert")
    return QUERIES[query](readings).collect(engine="streaming").rows()
