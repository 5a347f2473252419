//! The renderers as a user meets them: one invented report through every
//! format, compared with kept files, and the promises each format makes.

mod csv;
mod golden;
mod invented;
mod json;
mod terminal;
