//! How wide each column of a table may be, and which columns go together.

/// Longest word that keeps a column from shrinking further.
const LONGEST_KEPT_WORD: usize = 30;

/// Widest first column that is kept whole: it names the row.
const LONGEST_KEPT_KEY: usize = 20;

/// What the cells of a column need.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Need {
    /// Width without wrapping.
    pub(super) natural: usize,
    /// Width of the longest word: the column cannot be narrower without
    /// breaking it.
    pub(super) least: usize,
}

impl Need {
    /// What `cells` need. Only a plain space breaks a line.
    pub(super) fn of<'a>(cells: impl Iterator<Item = &'a str>) -> Need {
        let mut need = Need {
            natural: 1,
            least: 1,
        };
        for cell in cells {
            need.natural = need.natural.max(textwrap::core::display_width(cell));
            for word in cell.split(' ') {
                need.least = need.least.max(textwrap::core::display_width(word));
            }
        }
        need.least = need.least.min(LONGEST_KEPT_WORD);
        need
    }

    /// The same with a heading on one line.
    pub(super) fn beside(self, heading: &str) -> Need {
        let alone = Need::of(std::iter::once(heading));
        Need {
            natural: self.natural.max(alone.natural),
            least: self.least.max(alone.least),
        }
    }

    /// The same below a heading, which may take two lines.
    pub(super) fn under(self, heading: &str) -> Need {
        let alone = Need::of(std::iter::once(heading));
        let mut natural = self.natural.max(alone.least);
        while natural < alone.natural && lines(heading, natural) > 2 {
            natural += 1;
        }
        Need {
            natural,
            least: self.least.max(alone.least),
        }
    }

    /// The same for the column that names the row.
    fn as_key(self) -> Need {
        let least = if self.natural <= LONGEST_KEPT_KEY {
            self.natural
        } else {
            self.least
        };
        Need { least, ..self }
    }
}

/// Lines that words take at a width, filled from the left.
fn lines(text: &str, width: usize) -> usize {
    let mut lines = 1;
    let mut used = 0;
    for word in text.split(' ') {
        let length = textwrap::core::display_width(word);
        if used > 0 && used + 1 + length > width {
            lines += 1;
            used = length;
        } else {
            used += length + usize::from(used > 0);
        }
    }
    lines
}

/// Columns printed side by side, with their widths.
pub(super) type ColumnBlock = Vec<(usize, usize)>;

/// Blocks of columns that each fit `room` columns of text with `gap` between.
/// Every block repeats the first column, so rows stay recognisable.
pub(super) fn blocks(needs: &[Need], room: usize, gap: usize) -> Vec<ColumnBlock> {
    let mut needs = needs.to_vec();
    if let Some(key) = needs.first_mut() {
        *key = key.as_key();
    }
    loose_blocks(&needs, room, gap)
}

/// The same with a first column that may be wrapped like the others.
pub(super) fn loose_blocks(needs: &[Need], room: usize, gap: usize) -> Vec<ColumnBlock> {
    let Some(&key) = needs.first() else {
        return Vec::new();
    };
    let mut blocks: Vec<Vec<usize>> = Vec::new();
    let mut current = vec![0];
    let mut used = key.least;
    for (index, need) in needs.iter().enumerate().skip(1) {
        if used + gap + need.least > room && current.len() > 1 {
            blocks.push(std::mem::replace(&mut current, vec![0]));
            used = key.least;
        }
        current.push(index);
        used += gap + need.least;
    }
    blocks.push(current);
    blocks
        .into_iter()
        .map(|columns| widths(&columns, needs, room, gap))
        .collect()
}

/// Natural widths, then the widest column narrowed until the block fits.
fn widths(columns: &[usize], needs: &[Need], room: usize, gap: usize) -> ColumnBlock {
    let mut block: ColumnBlock = columns.iter().map(|&c| (c, needs[c].natural)).collect();
    let for_text = room.saturating_sub(gap * (columns.len() - 1));
    let total = |block: &ColumnBlock| block.iter().map(|b| b.1).sum::<usize>();
    while total(&block) > for_text {
        let shrinkable = block.iter_mut().filter(|b| b.1 > needs[b.0].least);
        match shrinkable.max_by_key(|b| b.1) {
            Some(widest) => widest.1 -= 1,
            None => break,
        }
    }
    // Even the longest words are too wide: break them, widest first.
    while total(&block) > for_text {
        match block.iter_mut().max_by_key(|b| b.1) {
            Some(widest) if widest.1 > 1 => widest.1 -= 1,
            _ => break,
        }
    }
    block
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn need(natural: usize, least: usize) -> Need {
        Need { natural, least }
    }

    #[test]
    fn only_a_plain_space_breaks() {
        let need = Need::of(["3.1\u{a0}±\u{a0}0.4 more", "x"].into_iter());
        assert_eq!((need.natural, need.least), (14, 9));
    }

    #[test]
    fn a_heading_takes_two_lines_before_it_widens_its_column() {
        let cells = Need::of(["3.1"].into_iter());
        assert_eq!(cells.under("as pressure (kPa/h)").natural, 11);
        assert_eq!(cells.under("would be seen from (kPa/h)").natural, 13);
    }

    #[test]
    fn what_fits_is_left_alone() {
        assert_eq!(
            blocks(&[need(10, 4), need(20, 5)], 32, 2),
            [vec![(0, 10), (1, 20)]]
        );
    }

    #[test]
    fn the_widest_gives_way_first() {
        assert_eq!(
            blocks(&[need(10, 4), need(60, 5)], 32, 2),
            [vec![(0, 10), (1, 20)]]
        );
    }

    #[test]
    fn what_cannot_fit_is_split_and_keeps_its_first_column() {
        let needs = [need(8, 8), need(10, 10), need(10, 10), need(10, 10)];
        assert_eq!(
            blocks(&needs, 32, 2),
            [vec![(0, 8), (1, 10), (2, 10)], vec![(0, 8), (3, 10)]]
        );
    }

    proptest! {
        #[test]
        fn every_block_fits_and_every_column_appears(
            raw in proptest::collection::vec((1usize..80, 1usize..40), 1..14),
            room in 36usize..120,
        ) {
            let needs: Vec<Need> = raw.iter().map(|&(a, b)| need(a.max(b), b)).collect();
            let blocks = blocks(&needs, room, 2);
            for block in &blocks {
                let total: usize = block.iter().map(|b| b.1 + 2).sum::<usize>() - 2;
                prop_assert!(total <= room, "{total} in {room}");
            }
            let mut seen: Vec<usize> = blocks.iter().flatten().map(|b| b.0).collect();
            seen.sort_unstable();
            seen.dedup();
            prop_assert_eq!(seen, (0..needs.len()).collect::<Vec<_>>());
        }
    }
}
