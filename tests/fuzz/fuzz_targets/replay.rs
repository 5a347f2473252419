#![no_main]

libfuzzer_sys::fuzz_target!(|data: &[u8]| seep_tests::fuzz::run("replay", data));
