//! Civil dates by the proleptic Gregorian calendar (ISO 8601).

/// A civil date and time, of a zone that the writer of it knows.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Civil {
    pub year: i64,
    /// 1 to 12.
    pub month: i64,
    /// 1 to 31.
    pub day: i64,
    /// Since midnight, µs; below one day.
    pub of_day_us: i64,
}

impl Civil {
    /// Returns µs since 1970-01-01 00:00 of the same zone; `None` where the
    /// calendar has no such day (years 1970 to 9999).
    pub(super) fn us(self) -> Option<i64> {
        let valid = (1970..=9999).contains(&self.year)
            && (1..=12).contains(&self.month)
            && (1..=days_in_month(self.year, self.month)).contains(&self.day)
            && (0..86_400_000_000).contains(&self.of_day_us);
        valid.then(|| {
            days_since_1970(self.year, self.month, self.day) * 86_400_000_000 + self.of_day_us
        })
    }
}

fn is_leap(year: i64) -> bool {
    year % 4 == 0 && (year % 100 != 0 || year % 400 == 0)
}

/// Days of a month (1 to 12).
pub(super) fn days_in_month(year: i64, month: i64) -> i64 {
    match month {
        2 => 28 + i64::from(is_leap(year)),
        4 | 6 | 9 | 11 => 30,
        _ => 31,
    }
}

/// Days from 1970-01-01; years from 1970 on.
pub(super) fn days_since_1970(year: i64, month: i64, day: i64) -> i64 {
    let before = year - 1;
    let leap_days = before / 4 - before / 100 + before / 400 - 477;
    let whole_months: i64 = (1..month).map(|m| days_in_month(year, m)).sum();
    (year - 1970) * 365 + leap_days + whole_months + day - 1
}

#[cfg(test)]
mod tests {
    use super::Civil;

    #[test]
    fn days_that_do_not_exist_have_no_time() {
        let at = |year, month, day| {
            let of_day_us = 0;
            Civil {
                year,
                month,
                day,
                of_day_us,
            }
            .us()
        };
        assert_eq!(at(1970, 1, 1), Some(0));
        assert_eq!(at(2024, 2, 29), Some(1_709_164_800_000_000));
        for (y, m, d) in [
            (2025, 2, 29),
            (2025, 13, 1),
            (2025, 0, 1),
            (2025, 4, 31),
            (1969, 12, 31),
        ] {
            assert_eq!(at(y, m, d), None, "{y}-{m}-{d}");
        }
    }
}
