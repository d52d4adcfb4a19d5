//! Puts the memory map where the linker finds it.

use std::{env, fs, path::PathBuf};

fn main() {
    let out = PathBuf::from(env::var_os("OUT_DIR").expect("cargo sets OUT_DIR"));
    fs::write(out.join("memory.x"), include_bytes!("memory.x")).expect("OUT_DIR is writable");
    println!("cargo:rustc-link-search={}", out.display());
    println!("cargo:rerun-if-changed=memory.x");
    if env::var_os("CARGO_FEATURE_RTT").is_some() {
        println!("cargo:rustc-link-arg=-Tdefmt.x");
    }
}
