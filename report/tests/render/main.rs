//! The renderers as a user meets them: one invented report through every
//! format, compared with kept files, and the promises each format makes.

mod contrast;
mod csv;
mod extremes;
mod golden;
mod html;
mod invented;
mod json;
mod terminal;
