//! What the fuzzer runs, on the plain compiler: the kept inputs of `fuzz/seeds`, and seeded changes of them, through the same
//! functions. It finds no new paths as the fuzzer does; it holds what was found.

use std::path::{Path, PathBuf};

use controller_core::settings::{Field, RawSettings};
use host_sim::files::quantity::Units;
use host_sim::files::settings_file;
use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{Rng, SeedableRng};
use system_tests::fuzz;

/// The kept inputs of a target, in the order of their names.
fn seeds(target: &str) -> Vec<Vec<u8>> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../fuzz/seeds");
    let folder = folder.join(target);
    let mut paths: Vec<PathBuf> = std::fs::read_dir(&folder)
        .unwrap_or_else(|error| panic!("{}: {error}", folder.display()))
        .map(|entry| entry.expect("an entry").path())
        .collect();
    paths.sort();
    assert!(!paths.is_empty(), "{}: no inputs", folder.display());
    let read = |path| std::fs::read(path).expect("a file");
    paths.into_iter().map(read).collect()
}

/// Changes bytes here and there: sets, flips, cuts, doubles, and splices in a piece of another input.
fn change(input: &[u8], others: &[Vec<u8>], random: &mut ChaCha8Rng) -> Vec<u8> {
    let mut bytes = input.to_vec();
    let below = |random: &mut ChaCha8Rng, n: usize| random.next_u32() as usize % n.max(1);
    for _ in 0..1 + below(random, 6) {
        let at = below(random, bytes.len());
        let end = bytes.len().min(at + 1 + below(random, 12));
        match below(random, 6) {
            0 if !bytes.is_empty() => bytes[at] = random.next_u32() as u8,
            1 if !bytes.is_empty() => bytes[at] ^= 1 << below(random, 8),
            2 if !bytes.is_empty() => drop(bytes.drain(at..end)),
            3 if !bytes.is_empty() => {
                let piece = bytes[at..end].to_vec();
                bytes.splice(at..at, piece);
            }
            4 => {
                let special = *b"\"\n\r,;\t.#\x00\xff-9";
                bytes.insert(at, special[below(random, special.len())]);
            }
            _ => {
                let other = &others[below(random, others.len())];
                let from = below(random, other.len());
                let to = other.len().min(from + 1 + below(random, 40));
                bytes.splice(at..at, other[from..to].iter().copied());
            }
        }
    }
    bytes
}

/// Runs the kept inputs and so many changes of them.
fn run(target: &str, changes: usize, hold: fn(&[u8])) {
    let seeds = seeds(target);
    let mut random = ChaCha8Rng::seed_from_u64(0xF022);
    for seed in &seeds {
        hold(seed);
    }
    for n in 0..changes {
        hold(&change(&seeds[n % seeds.len()], &seeds, &mut random));
    }
}

#[test]
fn any_life_keeps_the_rules() {
    run("controller_step", 120, |bytes| {
        fuzz::controller_step(bytes);
    });
}

#[test]
fn any_settings_file_is_taken_or_refused_with_a_place() {
    run("settings_file", 4_000, fuzz::settings_file);
}

#[test]
fn any_log_is_read_or_refused_with_its_line() {
    run("log_reader", 100_000, fuzz::log_reader);
}

/// The parser's kept inputs follow the settings: a whole file as the program writes it, and every name in the dictionary.
#[test]
fn the_settings_seeds_are_of_this_table() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../fuzz");
    let read = |name: &str| std::fs::read_to_string(folder.join(name)).expect("a file");
    let written = settings_file::to_toml(&RawSettings::DEFAULT, Units::Si);
    assert!(
        read("seeds/settings_file/defaults.toml") == written,
        "the kept file is of another table: cargo run -q -- settings --all > fuzz/seeds/settings_file/defaults.toml"
    );
    let words = read("settings_file.dict");
    for field in Field::all() {
        let word = format!("\"{}\"", field.name);
        assert!(words.lines().any(|line| line == word), "{word}");
    }
}
