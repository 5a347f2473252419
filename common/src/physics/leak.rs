//! Leaks: the shape of the law that says what leaves a volume.

mod shape;

pub use shape::LeakShape;

#[cfg(test)]
mod tests;
