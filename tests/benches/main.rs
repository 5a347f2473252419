//! How fast the parts are, one after the other as data flows: decode, tick,
//! store, load, segment, fit. Each works on the sample logs that are checked in
//! (simulated, invented) and tells its rate in frames, readings, rows or rests.
//! The commands are in DEVELOPERS.md.

mod decode;
mod fit;
mod inputs;
mod load;
mod segment;
mod store;
mod tick;

fn main() {
    let folder = seep_tests::scratch::scratch();
    inputs::FOLDER.get_or_init(|| folder.path().into());
    divan::main();
}
