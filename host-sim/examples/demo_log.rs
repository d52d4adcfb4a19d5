//! Makes the demo log: `cargo run --release -p host-sim --example demo_log > host-sim/data/demo-week.csv`
//!
//! A cold week with a front in the invented plant house, logged once a minute by its own controller. One
//! night the slab sensor's plug is loose, so that a replay has something to say.

fn main() -> anyhow::Result<()> {
    host_sim::files::output::print(&host_sim::questions::demo::log()?)?;
    Ok(())
}
