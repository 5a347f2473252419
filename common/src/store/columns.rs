//! Readings in columns, as analyses want them.

/// Ticks of a span, one vector per channel.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Columns {
    /// Log times, ms, strictly rising.
    pub t_ms: Vec<i64>,
    /// Channel names asked for, in order.
    pub names: Vec<String>,
    /// Values in the channel's unit, `NaN` where silent; one vector per name.
    pub values: Vec<Vec<f32>>,
}

impl Columns {
    /// A column by channel name.
    #[must_use]
    pub fn column(&self, name: &str) -> Option<&[f32]> {
        let i = self.names.iter().position(|n| n == name)?;
        self.values.get(i).map(Vec::as_slice)
    }

    /// Number of ticks.
    #[must_use]
    pub fn len(&self) -> usize {
        self.t_ms.len()
    }

    /// True when the span holds no tick.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.t_ms.is_empty()
    }
}
