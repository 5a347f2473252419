//! From where on a leak that comes and goes would have been named.

use super::two_digits;
use crate::analysis::leak::CM3_MIN_PER_L_S;
use crate::findings::place_words;
use crate::judgement::Judgement;
use crate::model::{Cell, Column, Measured, Table, Unit};

/// One row per circuit; `None` where no circuit has a volume and a height.
pub(super) fn table(judgement: &Judgement) -> Option<Table> {
    let mut table = Table::new(
        "at-times",
        "A leak only after dumps, or only in the colder half of the time, would be told from a steady \
         one from",
        vec![
            Column::text("place"),
            Column::number("after dumps", Unit::AnrCm3PerMin),
            Column::number("in the cold", Unit::AnrCm3PerMin),
        ],
    );
    let corners = judgement.at_rest.volumes.iter();
    for volume in corners.filter(|v| v.place != "tank" && !v.loss.lower_bound) {
        let cell = |l_per_s: Option<f64>, why: &str| {
            let cm3 = l_per_s.map(|l| two_digits(l * CM3_MIN_PER_L_S));
            Cell::number_or(cm3.map(|c| Measured::exact(c, Unit::AnrCm3PerMin)), why)
        };
        let (cold, after_dump) = volume.conditional_limits_l_per_s;
        table.push(vec![
            Cell::text(&place_words(&volume.place)),
            cell(after_dump, "named, or too few rests after dumps or fills"),
            cell(cold, "named, or temperatures too much alike"),
        ]);
    }
    (!table.rows.is_empty()).then_some(table)
}
