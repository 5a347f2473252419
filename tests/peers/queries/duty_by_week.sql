-- How much the compressor of each car runs, week by week (Monday first).
--
-- readings: the data set of `seep export --format parquet --by-day`. A row holds
-- until the next one; a pause of more than a minute is time not known.
WITH steps AS (
    SELECT vehicle, day, compressor_1_on AS running,
        lead(t_ms) OVER (PARTITION BY vehicle, session ORDER BY t_ms) - t_ms AS ms
    FROM readings
)
SELECT vehicle, CAST(date_trunc('week', CAST(day AS DATE)) AS DATE) AS week,
    100.0 * sum(running * ms) / sum(ms) AS duty_percent,
    sum(ms) / 3600000.0 AS known_hours
FROM steps WHERE running IS NOT NULL AND ms <= 60000
GROUP BY vehicle, CAST(date_trunc('week', CAST(day AS DATE)) AS DATE) ORDER BY vehicle, week
