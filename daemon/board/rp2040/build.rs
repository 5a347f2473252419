//! Where the program lies in the flash and memory of the board.

fn main() {
    let out = std::path::PathBuf::from(std::env::var_os("OUT_DIR").expect("set by cargo"));
    std::fs::copy("memory.x", out.join("memory.x")).expect("copied");
    println!("cargo:rustc-link-search={}", out.display());
    println!("cargo:rerun-if-changed=memory.x");
}
