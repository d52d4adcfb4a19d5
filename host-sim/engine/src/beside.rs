//! What is known of a run beside the controller's inputs.

/// What a row's time brought besides the trace, where known.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Extra {
    /// House air, °C.
    pub air_c: Option<f64>,
    /// Store, by a sensor of its own or by the model, °C.
    pub store_c: Option<f64>,
    /// Did the circulator run by the log?
    pub logged_circulator: Option<bool>,
    /// Was the boiler called by the log?
    pub logged_boiler: Option<bool>,
    /// The slab where its sensor is by the model, °C: what counts where there is no reading.
    pub slab_c: Option<f64>,
}
