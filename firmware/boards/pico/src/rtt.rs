//! Log over the debug probe. Nothing waits for it: what the probe does not fetch is lost.

use defmt_rtt as _;

defmt::timestamp!("{=u64:ms}", embassy_time::Instant::now().as_millis());
