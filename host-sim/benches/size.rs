//! What the design check costs: all of it, and a sweep of seven points.
//!
//! `cargo bench -p host-sim --bench size`

use divan::{Bencher, black_box};
use host_sim::files;
use host_sim::files::quantity::Units;
use host_sim::files::site::SiteConfig;
use host_sim::present;
use host_sim::questions::size::{Asked, Check, Shown, Vary, design_night};

fn main() {
    divan::main();
}

const ASKED: Asked = Asked {
    hold_c: Asked::HOLD_C,
    store_c: None,
    design_c: -18.8,
};

/// Plant and question to every figure.
#[divan::bench(sample_size = 1)]
fn check() -> Check {
    let plant = SiteConfig::default().plant;
    Check::of(black_box(&plant), &ASKED.question(&plant))
}

/// What `host-sim size` does from the built-in weather to the text.
#[divan::bench(sample_size = 1)]
fn whole() -> String {
    let year = files::weather::demo().expect("the built-in weather");
    let plant = SiteConfig::default().plant;
    let asked = Asked {
        design_c: design_night(&year).0,
        ..ASKED
    };
    let check = Check::of(&plant, &asked.question(&plant));
    present::size::text(&Shown::new(&check, None, Units::Si))
}

/// Seven spacings.
#[divan::bench(sample_size = 1)]
fn sweep(bencher: Bencher<'_, '_>) {
    let site = SiteConfig::default();
    bencher.bench(|| {
        let vary = Vary::parse(black_box("spacing=0.15..0.30 m"), 7).expect("a sweep");
        vary.run(&site, &ASKED).expect("sites that can be built")
    });
}
