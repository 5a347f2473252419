//! Some rows in columns.

/// Values of one column.
#[derive(Debug, Clone, PartialEq)]
pub enum Data {
    /// Whole numbers.
    Int(Vec<i64>),
    /// Wall times, Unix ms; none without a clock record.
    Time(Vec<Option<i64>>),
    /// Readings, none where silent; printed with so many decimals.
    Number(Vec<Option<f64>>, usize),
    /// Words.
    Text(Vec<Option<String>>),
    /// On or off.
    Flag(Vec<bool>),
}

impl Data {
    /// Number of values.
    #[must_use]
    pub fn len(&self) -> usize {
        match self {
            Data::Int(v) => v.len(),
            Data::Time(v) => v.len(),
            Data::Number(v, _) => v.len(),
            Data::Text(v) => v.len(),
            Data::Flag(v) => v.len(),
        }
    }

    /// True without any value.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.len() == 0
    }

    /// Add the values of another column of the same kind; others are left alone.
    pub fn extend(&mut self, more: &Data) {
        match (self, more) {
            (Data::Int(v), Data::Int(m)) => v.extend(m),
            (Data::Time(v), Data::Time(m)) => v.extend(m),
            (Data::Number(v, _), Data::Number(m, _)) => v.extend(m),
            (Data::Text(v), Data::Text(m)) => v.extend(m.iter().cloned()),
            (Data::Flag(v), Data::Flag(m)) => v.extend(m),
            _ => debug_assert!(false, "columns of different kinds"),
        }
    }

    /// The values of these rows.
    #[must_use]
    pub fn rows(&self, from: usize, to: usize) -> Data {
        match self {
            Data::Int(v) => Data::Int(v[from..to].to_vec()),
            Data::Time(v) => Data::Time(v[from..to].to_vec()),
            Data::Number(v, d) => Data::Number(v[from..to].to_vec(), *d),
            Data::Text(v) => Data::Text(v[from..to].to_vec()),
            Data::Flag(v) => Data::Flag(v[from..to].to_vec()),
        }
    }
}

/// Rows of one session, or of a whole small table, in named columns of equal length.
#[derive(Debug, Clone, PartialEq)]
pub struct Chunk {
    /// Session the rows belong to; 0 for a whole table.
    pub session: i64,
    /// Columns in order.
    pub columns: Vec<(String, Data)>,
}

impl Chunk {
    /// Number of rows.
    #[must_use]
    pub fn len(&self) -> usize {
        self.columns.first().map_or(0, |c| c.1.len())
    }

    /// True without any row.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.len() == 0
    }

    /// These rows as a chunk of their own.
    #[must_use]
    pub fn rows(&self, from: usize, to: usize) -> Chunk {
        Chunk {
            session: self.session,
            columns: self
                .columns
                .iter()
                .map(|(name, data)| (name.clone(), data.rows(from, to)))
                .collect(),
        }
    }

    /// Add the rows of a chunk with the same columns.
    pub fn extend(&mut self, more: &Chunk) {
        for (own, other) in self.columns.iter_mut().zip(&more.columns) {
            own.1.extend(&other.1);
        }
    }

    /// The wall times, when the chunk has any.
    #[must_use]
    pub fn times(&self) -> Option<&[Option<i64>]> {
        self.columns.iter().find_map(|(_, data)| match data {
            Data::Time(times) => Some(times.as_slice()),
            _ => None,
        })
    }
}

/// Decimals that show every step of a resolution, nine at most.
#[must_use]
pub(super) fn decimals(resolution: f64) -> usize {
    (0..9)
        .find(|d| {
            let steps = resolution * 10_f64.powi(*d);
            (steps - steps.round()).abs() < 1e-9 * steps.abs().max(1e-9) && steps.round() >= 1.0
        })
        .and_then(|d| usize::try_from(d).ok())
        .unwrap_or(9)
}

/// A reading as it was recorded: the nearest number with so many decimals.
#[must_use]
pub(super) fn recorded(value: f32, decimals: usize) -> Option<f64> {
    if value.is_nan() {
        return None;
    }
    let scale = 10_f64.powi(i32::try_from(decimals).unwrap_or(9));
    Some((f64::from(value) * scale).round() / scale)
}

#[cfg(test)]
mod tests {
    use super::{decimals, recorded};

    #[test]
    fn decimals_follow_the_resolution() {
        let cases = [
            (1.0, 0),
            (0.1, 1),
            (0.05, 2),
            (0.5, 1),
            (5.0, 0),
            (1.0 / 256.0, 8),
            (1.0 / 3.0, 9),
        ];
        for (resolution, expected) in cases {
            assert_eq!(decimals(resolution), expected, "{resolution}");
        }
    }

    #[test]
    fn a_reading_keeps_its_own_decimals() {
        assert_eq!(recorded((8013.0_f64 * 0.1) as f32, 1), Some(801.3));
        assert_eq!(recorded(f32::NAN, 1), None);
    }
}
