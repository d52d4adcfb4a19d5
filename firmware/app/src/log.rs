//! What a debugger hears, if the image is built with the `defmt` feature; nothing otherwise.
//!
//! Nothing may depend on it: the log can be slow, full or absent.

/// Says what happened.
macro_rules! info {
    ($($what:tt)*) => {{
        #[cfg(feature = "defmt")]
        defmt::info!($($what)*);
    }};
}

/// Says what went wrong.
macro_rules! warning {
    ($($what:tt)*) => {{
        #[cfg(feature = "defmt")]
        defmt::warn!($($what)*);
    }};
}

pub(crate) use {info, warning};
