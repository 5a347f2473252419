//! The rest model against its reference implementation and against published figures.

mod oracle;
