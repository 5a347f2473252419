//! Independent pieces of work side by side.

use std::num::NonZero;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::{Mutex, PoisonError};

/// Processors that this program may use.
pub(crate) fn processors() -> usize {
    std::thread::available_parallelism().map_or(1, NonZero::get)
}

/// `work` on each item, on up to so many threads; results in the order of the
/// items. A panic of `work` goes on in the caller.
pub(crate) fn map<T: Sync, R: Send>(
    items: &[T],
    threads: usize,
    work: impl Fn(&T) -> R + Sync,
) -> Vec<R> {
    let threads = threads.min(items.len());
    if threads < 2 {
        return items.iter().map(work).collect();
    }
    let next = AtomicUsize::new(0);
    let done: Mutex<Vec<(usize, R)>> = Mutex::new(Vec::with_capacity(items.len()));
    std::thread::scope(|scope| {
        for _ in 0..threads {
            scope.spawn(|| {
                while let Some((i, item)) = taken(items, &next) {
                    let result = work(item);
                    let mut done = done.lock().unwrap_or_else(PoisonError::into_inner);
                    done.push((i, result));
                }
            });
        }
    });
    let mut done = done.into_inner().unwrap_or_else(PoisonError::into_inner);
    done.sort_by_key(|d| d.0);
    done.into_iter().map(|d| d.1).collect()
}

fn taken<'a, T>(items: &'a [T], next: &AtomicUsize) -> Option<(usize, &'a T)> {
    let i = next.fetch_add(1, Ordering::Relaxed);
    items.get(i).map(|item| (i, item))
}

#[cfg(test)]
mod tests {
    use super::map;

    #[test]
    fn results_come_in_the_order_of_the_items() {
        let items: Vec<u64> = (0..200).collect();
        for threads in [0, 1, 3, 500] {
            let squares = map(&items, threads, |n| n * n);
            assert!(squares.iter().zip(&items).all(|(s, n)| *s == n * n));
            assert_eq!(squares.len(), items.len());
        }
        assert!(map(&[] as &[u64], 3, |n| *n).is_empty());
    }
}
