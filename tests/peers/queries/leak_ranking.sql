-- Which corner of which car loses air fastest, worst first.
--
-- readings: the data set of `seep export --format parquet --by-day`, the folders of
-- several cars side by side. A rest is what follows two minutes after the last
-- movement of a session; its loss is the slope of the logarithm of pressure over
-- absolute temperature. This ranks cars quickly; `seep leaks` on the one that
-- comes out on top gives the figure with its uncertainty.
-- 101.3 kPa outside is assumed: enough for an order, not for a figure.
WITH last_drive AS (
    SELECT vehicle, session, max(t_ms) AS t_ms FROM readings WHERE vehicle_kmh > 2 GROUP BY vehicle, session
), rest AS (
    SELECT r.*, (r.t_ms - d.t_ms) / 3600000.0 AS hours
    FROM readings r JOIN last_drive d ON r.vehicle = d.vehicle AND r.session = d.session
    WHERE r.t_ms > d.t_ms + 120000
), amounts AS (
    SELECT vehicle, session, hours, 'front_left' AS place, (front_left_kpa_gauge + 101.3) / (ambient_c + 273.15) AS amount FROM rest
    UNION ALL
    SELECT vehicle, session, hours, 'front_right' AS place, (front_right_kpa_gauge + 101.3) / (ambient_c + 273.15) AS amount FROM rest
    UNION ALL
    SELECT vehicle, session, hours, 'rear_left' AS place, (rear_left_kpa_gauge + 101.3) / (ambient_c + 273.15) AS amount FROM rest
    UNION ALL
    SELECT vehicle, session, hours, 'rear_right' AS place, (rear_right_kpa_gauge + 101.3) / (ambient_c + 273.15) AS amount FROM rest
), losses AS (
    SELECT vehicle, session, place, -100 * regr_slope(ln(amount), hours) AS percent_per_h, max(hours) AS length_h
    FROM amounts WHERE amount > 0 GROUP BY vehicle, session, place HAVING count(*) > 100
), ranking AS (
    -- The slope's variance falls with the cube of a rest's length, so long rests count.
    SELECT vehicle, place,
        sum(percent_per_h * length_h * length_h * length_h) / sum(length_h * length_h * length_h) AS percent_per_h,
        count(*) AS rests
    FROM losses GROUP BY vehicle, place
)
SELECT vehicle, place, percent_per_h, rests FROM ranking
ORDER BY round(percent_per_h, 6) DESC, vehicle, place
