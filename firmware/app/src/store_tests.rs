use super::*;
use crate::bindings::Source;
use crate::fakes::{Flash, Random};
use controller_core::restart::RestartCause;
use controller_core::settings::{Key, Mode};
use std::collections::HashSet;

/// Two images a sector, so that every other save erases.
type Small = Flash<2048, 8>;
const SECTORS: u32 = 3;
/// The first sector belongs to something else.
const RANGE: Range<u32> = 2048..2048 * (1 + SECTORS);

fn flash() -> Small {
    Small::new(1 + SECTORS as usize)
}

/// Valid contents that differ by `n`.
fn kept(n: u64) -> Kept {
    let mut settings = defaults::UNIT;
    let bits = 98_304 + i32::try_from(n % 5_000).unwrap();
    assert!(settings.set_bits(Key::from_name("target").unwrap(), bits));
    settings.pump_starts = 2 + u8::try_from(n % 6).unwrap();
    let [a, b, ..] = n.to_le_bytes();
    let chip = Source::Chip([0x28, a, b, 0, 0, 0, 0, 1]);
    let mut record = Record::default();
    record.powered_s = u32::try_from(n % 1_000_000).unwrap();
    let _ = record.boot(RestartCause::Watchdog, None, false, 1);
    Kept {
        settings,
        chosen: true,
        bindings: Bindings {
            slab: chip,
            ..Bindings::default()
        },
        record,
    }
}

fn found(flash: &mut Small) -> Loaded {
    Store::open(flash, &RANGE).1
}

#[track_caller]
fn assert_is(loaded: &Loaded, kept: &Kept) {
    assert!(!loaded.settings_lost);
    assert_eq!(*loaded.settings.raw(), kept.settings);
    assert_eq!(
        (loaded.bindings, loaded.record),
        (kept.bindings, kept.record)
    );
}

#[test]
fn what_was_stored_is_loaded() {
    let mut flash = flash();
    let mut store = Store::open(&mut flash, &RANGE).0;
    for n in 0..30 {
        store.save(&mut flash, &kept(n)).unwrap();
        assert_is(&found(&mut flash), &kept(n));
    }
    assert!(
        flash.bytes[..2048].iter().all(|byte| *byte == 0xFF),
        "other flash is left alone"
    );
}

#[test]
fn names_have_checksums_of_their_own_and_all_fit() {
    let sums: HashSet<_> = Field::all()
        .iter()
        .map(|f| checksum(f.name.as_bytes()))
        .collect();
    assert_eq!(sums.len(), Field::all().len());
    assert!(Field::all().len() <= MOST_SETTINGS);
}

#[test]
fn settings_of_another_firmware_are_read_as_far_as_known() {
    let mut bytes = to_bytes(&kept(9));
    bytes.extend_from_slice(&[1, 2, 3, 4, 5, 6]).unwrap(); // a setting unknown here
    bytes[2] += 1;
    assert_eq!(from_bytes(&bytes), Some(kept(9)));
    bytes[2] = 0; // none stored: each has its default
    assert_eq!(from_bytes(&bytes).unwrap().settings, defaults::UNIT);
}

#[test]
fn an_image_of_another_version_is_refused_and_settings_are_told_lost() {
    for version in [VERSION - 1, VERSION + 1] {
        let mut flash = flash();
        let mut bytes = to_bytes(&kept(9));
        bytes[0] = version;
        let mut store = Store::open(&mut flash, &RANGE).0;
        store.ring.append(&mut flash, &bytes).unwrap();
        let loaded = found(&mut flash);
        assert!(loaded.settings_lost, "version {version}");
        assert_eq!(*loaded.settings.raw(), defaults::UNIT);
        // What is stored from then on is this firmware's own.
        store.save(&mut flash, &kept(3)).unwrap();
        assert_is(&found(&mut flash), &kept(3));
    }
}

/// Another table needs another version unless it only gained settings. Whoever changes the table
/// decides that here and puts the new sum beside the version.
#[test]
fn the_table_of_this_version_is_known() {
    let names: std::vec::Vec<_> = Field::all().iter().map(|f| f.name).collect();
    let sum = checksum(names.join(" ").as_bytes());
    assert_eq!((VERSION, names.len(), sum), (3, 46, 61_443));
}

#[test]
fn nothing_stored_is_defaults_in_winter_and_said_so() {
    let loaded = found(&mut flash());
    assert!(loaded.settings_lost);
    assert_eq!(*loaded.settings.raw(), defaults::UNIT);
    assert_eq!(loaded.settings.mode, Mode::Winter);
    assert_eq!(loaded.bindings, Bindings::default());
}

#[test]
fn stored_settings_that_break_a_rule_are_not_adopted() {
    let mut flash = flash();
    let mut store = Store::open(&mut flash, &RANGE).0;
    let mut bad = kept(1);
    bad.settings.frost_off = bad.settings.frost_on;
    store.save(&mut flash, &bad).unwrap();
    let loaded = found(&mut flash);
    assert!(loaded.settings_lost);
    assert_eq!(*loaded.settings.raw(), defaults::UNIT);
    assert_eq!(loaded.bindings, bad.bindings, "the rest is kept");
}

#[test]
fn damage_uncovers_an_older_image_or_gives_defaults_never_anything_else() {
    let mut whole = flash();
    let mut store = Store::open(&mut whole, &RANGE).0;
    for n in 0..3 {
        store.save(&mut whole, &kept(n)).unwrap();
    }
    let (mut newest, mut older, mut lost) = (0, 0, 0);
    let mut random = Random(5);
    for n in 0..1_500_u64 {
        let mut flash = whole.clone();
        flash.torn = 1; // damage may be written over
        // From single bits to whole stretches.
        for _ in 0..1 + n % 7 {
            let place = 2048 + random.below(3 * 1024 - 1) as usize;
            let end = (place + 1 + (n % 90) as usize).min(flash.bytes.len());
            for byte in &mut flash.bytes[place..end] {
                *byte ^= random.next() as u8;
            }
        }
        let (mut store, loaded) = Store::open(&mut flash, &RANGE);
        if loaded.settings_lost {
            lost += 1;
            assert_eq!(*loaded.settings.raw(), defaults::UNIT);
        } else {
            let which = (0..3)
                .rev()
                .find(|n| *loaded.settings.raw() == kept(*n).settings);
            let which = which.expect("one of those stored");
            assert_is(&loaded, &kept(which));
            if which == 2 { newest += 1 } else { older += 1 }
        }
        // Either way settings can be stored again at once.
        store.save(&mut flash, &kept(40)).unwrap();
        assert_is(&found(&mut flash), &kept(40));
    }
    assert!(
        newest > 50 && older > 50 && lost > 50,
        "{newest} {older} {lost}"
    );
}

#[test]
fn a_region_of_noise_is_survived() {
    let mut random = Random(11);
    for _ in 0..60 {
        let mut flash = flash();
        flash.torn = 1; // noise may be written over
        flash
            .bytes
            .iter_mut()
            .for_each(|byte| *byte = random.next() as u8);
        let (mut store, loaded) = Store::open(&mut flash, &RANGE);
        assert!(loaded.settings_lost);
        store.save(&mut flash, &kept(1)).unwrap();
        assert_is(&found(&mut flash), &kept(1));
    }
}

#[test]
fn a_flash_that_refuses_is_an_error_and_the_old_image_stands() {
    let mut flash = flash();
    let mut store = Store::open(&mut flash, &RANGE).0;
    store.save(&mut flash, &kept(1)).unwrap();
    flash.refuses = true;
    assert_eq!(store.save(&mut flash, &kept(2)), Err(RingFault));
    flash.refuses = false;
    assert_is(&found(&mut flash), &kept(1));
    store.save(&mut flash, &kept(3)).unwrap();
    assert_is(&found(&mut flash), &kept(3));
    // Too little room, or not at a sector's start, is refused, not a panic.
    for range in [0..0, 0..2048, 5..9000] {
        let (mut store, loaded) = Store::open(&mut flash, &range);
        assert!(loaded.settings_lost);
        assert_eq!(store.save(&mut flash, &kept(2)), Err(RingFault));
    }
}

/// Cuts the power `cases` times, after any byte of a write or anywhere in an erase. What was
/// acknowledged must be there; what was under way must be old or new. Gives the flash.
fn cut(cases: u32, seed: u64) -> Small {
    let mut random = Random(seed);
    let mut flash = flash();
    let mut store = Store::open(&mut flash, &RANGE).0;
    let mut last = kept(0);
    store.save(&mut flash, &last).unwrap();
    for case in 0..cases {
        flash.revive(Some(1 + random.below(7_000)));
        let under_way = loop {
            let next = kept(random.next());
            if store.save(&mut flash, &next).is_err() {
                break next;
            }
            last = next;
        };
        assert!(flash.is_dead(), "case {case}: only a cut may fail a save");
        flash.revive(None);
        let opened = Store::open(&mut flash, &RANGE);
        store = opened.0;
        assert!(!opened.1.settings_lost, "case {case}: settings lost");
        if *opened.1.settings.raw() != last.settings {
            last = under_way;
        }
        assert_is(&opened.1, &last);
    }
    flash
}

#[test]
fn power_cuts_lose_nothing_acknowledged() {
    let flash = cut(1_000, 1);
    assert!(flash.torn > 990, "{}", flash.torn);
}

#[test]
fn a_cut_after_every_single_byte_and_through_a_whole_erase_loses_nothing() {
    // Two saves: the first erases a sector (2048 steps) and writes 1024 bytes, the second writes.
    let mut start = flash();
    let mut store = Store::open(&mut start, &RANGE).0;
    for n in 0..4 {
        store.save(&mut start, &kept(n)).unwrap();
    }
    for steps in 1..=2048 + 1024 + 1024 {
        let mut flash = start.clone();
        let mut store = store.clone();
        flash.revive(Some(steps));
        let done = (4..6)
            .take_while(|n| store.save(&mut flash, &kept(*n)).is_ok())
            .count() as u64;
        flash.revive(None);
        let loaded = found(&mut flash);
        let newer = *loaded.settings.raw() == kept(4 + done).settings;
        assert_is(&loaded, &kept(if newer { 4 + done } else { 3 + done }));
    }
}

/// The long run: `cargo test --release -p firmware-app -- --ignored`.
#[test]
#[ignore = "a minute in a release build"]
fn a_hundred_thousand_power_cuts_lose_nothing_acknowledged() {
    for seed in 1..=10 {
        let flash = cut(10_000, seed);
        let erases: u32 = flash.erases.iter().sum();
        std::println!("seed {seed}: {} torn, {erases} whole erases", flash.torn);
        assert!(flash.torn > 9_900);
    }
}

#[test]
fn wear_stays_within_the_documented_budget() {
    // 150 images a day for thirty days on eight of the usual 4 KiB sectors.
    const EIGHT: Range<u32> = 0..8 * 4096;
    let mut flash = Flash::<4096, 1>::new(8);
    let mut store = Store::open(&mut flash, &EIGHT).0;
    for n in 0..30 * 150 {
        store.save(&mut flash, &kept(n)).unwrap();
    }
    let most = *flash.erases.iter().max().unwrap();
    // 4500 images, four a sector, eight sectors: 141 erases each at most.
    assert!((100..=141).contains(&most), "{most}");
    let years = 100_000.0 / f64::from(most) * 30.0 / 365.25;
    assert!(years > 50.0, "{years} years");
}

/// Sectors of 128 KiB, as some microcontrollers have: two for each region, and a cut through an erase.
#[test]
fn large_sectors_are_served_and_a_cut_through_their_erase_loses_nothing() {
    const SECTOR: u32 = 128 * 1024;
    let layout = crate::board::Layout {
        store: 0..2 * SECTOR,
        history: 2 * SECTOR..4 * SECTOR,
    };
    assert!(layout.fits(SECTOR as usize, 8));
    let mut flash = Flash::<{ SECTOR as usize }, 8>::new(4);
    let mut store = Store::open(&mut flash, &layout.store).0;
    for n in 0..300 {
        store.save(&mut flash, &kept(n)).unwrap();
    }
    assert_is(&Store::open(&mut flash, &layout.store).1, &kept(299));
    assert_eq!(flash.erases, [2, 1, 0, 0]);
    // Up to the end of the sector in use, then into the other's erase, where the power goes.
    for n in 300..384 {
        store.save(&mut flash, &kept(n)).unwrap();
    }
    flash.revive(Some(u64::from(SECTOR) / 2));
    assert!(store.save(&mut flash, &kept(384)).is_err());
    flash.revive(None);
    let (mut store, loaded) = Store::open(&mut flash, &layout.store);
    assert_is(&loaded, &kept(383));
    store.save(&mut flash, &kept(385)).unwrap();
    assert_is(&Store::open(&mut flash, &layout.store).1, &kept(385));
}
