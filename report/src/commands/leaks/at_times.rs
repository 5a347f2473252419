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
    for limits in &judgement.faults.named_from {
        let cell = |l_per_s: Option<f64>, why: &str| {
            let cm3 = l_per_s.map(|l| two_digits(l * CM3_MIN_PER_L_S));
            Cell::number_or(cm3.map(|c| Measured::exact(c, Unit::AnrCm3PerMin)), why)
        };
        table.push(vec![
            Cell::text(&place_words(&limits.place)),
            cell(
                limits.after_dump_l_per_s,
                "too few rests after dumps or after fills",
            ),
            cell(
                limits.cold_l_per_s,
                "no temperature, or too few cold or warm rests",
            ),
        ]);
    }
    (!judgement.faults.named_from.is_empty()).then_some(table)
}
