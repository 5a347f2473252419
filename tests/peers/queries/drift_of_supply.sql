-- How fast the compressor of each car fills its tank, and how that changes: a path
-- that gets slower from week to week (intake, check valve, line, worn rings) is ahead.
--
-- readings: the data set of `seep export --format parquet --by-day`. A run is a stretch
-- of rows with the compressor on; its speed is the slope of tank pressure, taken to
-- 20 °C, between 950 and 1050 kPa gauge, the same band for every run and car, because a
-- compressor slows down with back pressure. `seep trip` on the car that comes out on top
-- prices voltage, heat and air used meanwhile, which this does not.
WITH steps AS (
    SELECT vehicle, session, t_ms, tank_kpa_gauge, compressor_1_on,
        (tank_kpa_gauge + 101.3) * 293.15 / (ambient_c + 273.15) AS kpa_at_20_c,
        lag(compressor_1_on) OVER (PARTITION BY vehicle, session ORDER BY t_ms) AS before
    FROM readings WHERE compressor_1_on IS NOT NULL AND tank_kpa_gauge IS NOT NULL
), numbered AS (
    SELECT vehicle, session, t_ms, tank_kpa_gauge, kpa_at_20_c, compressor_1_on,
        t_ms - min(t_ms) OVER (PARTITION BY vehicle, session) AS since_ms,
        sum(CASE WHEN compressor_1_on = 1 AND (before IS NULL OR before = 0) THEN 1 ELSE 0 END)
            OVER (PARTITION BY vehicle, session ORDER BY t_ms ROWS UNBOUNDED PRECEDING) AS run
    FROM steps
), runs AS (
    SELECT vehicle, session, run, min(t_ms) / 86400000.0 AS day,
        1000.0 * regr_slope(kpa_at_20_c, CAST(since_ms AS DOUBLE)) AS kpa_per_s
    FROM numbered
    WHERE compressor_1_on = 1 AND tank_kpa_gauge BETWEEN 950 AND 1050
    GROUP BY vehicle, session, run HAVING count(*) >= 50
)
SELECT vehicle, avg(kpa_per_s) AS kpa_per_s,
    700.0 * regr_slope(kpa_per_s, day) / avg(kpa_per_s) AS percent_per_week,
    count(*) AS runs
FROM runs GROUP BY vehicle HAVING count(*) >= 3 ORDER BY vehicle
