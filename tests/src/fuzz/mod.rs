//! What a fuzzer runs: any bytes in, and what must hold of them.
//!
//! The targets in `fuzz/` call these with the coverage-guided fuzzer; `tests/tests/fuzz_inputs.rs` runs the
//! kept inputs and seeded random ones through the same functions with the plain compiler.

mod life;
mod log;
mod settings;
mod support;

pub use life::controller_step;
pub use log::log_reader;
pub use settings::settings_file;
