mod any_text;
mod builtin;
mod multiplexing;
mod reading;
