//! What it costs to lay a floor: the demo's, and 20 x 20 m at 0.15 m, 17 000 nodes, with its map of evenness.
//!
//! `cargo bench -p host-sim --bench lay`

use divan::{Bencher, black_box};
use host_sim::files::plan::Plan;
use host_sim::questions::lay::{Laid, Question, lay};
use host_sim::sim::plant::config::PlantConfig;

fn main() {
    divan::main();
}

fn laid(plan: &Plan, spacing_m: f64) -> Laid {
    let plant = PlantConfig::default();
    lay(&Question::usual(plan, &plant, spacing_m)).expect("a floor that can be laid")
}

#[divan::bench(sample_size = 1)]
fn demo(bencher: Bencher<'_, '_>) {
    let plan = Plan::rectangle(3.6, 6.0);
    bencher.bench(|| laid(black_box(&plan), 0.25));
}

/// One circuit, or as many as the tube's usual length asks.
#[divan::bench(sample_size = 1, args = [true, false])]
fn large(bencher: Bencher<'_, '_>, in_one: bool) {
    let plan = Plan {
        count: in_one.then_some(1),
        ..Plan::rectangle(20.0, 20.0)
    };
    bencher.bench(|| laid(black_box(&plan), 0.15));
}
