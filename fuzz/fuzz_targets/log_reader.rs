#![no_main]
libfuzzer_sys::fuzz_target!(|bytes: &[u8]| system_tests::fuzz::log_reader(bytes));
