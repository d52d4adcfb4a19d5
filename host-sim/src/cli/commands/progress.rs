//! A bar for long runs.

#[cfg(feature = "pc")]
use std::io::IsTerminal as _;

#[cfg(feature = "pc")]
use indicatif::{ProgressBar, ProgressStyle};

/// A bar.
#[cfg(feature = "pc")]
pub(super) type Progress = ProgressBar;

/// A bar on standard error, only where a person looks and the work is long enough.
#[cfg(feature = "pc")]
pub(super) fn progress_bar(total: Option<u64>, unit_is_bytes: bool) -> Progress {
    const WORTH_A_BAR: u64 = 8 << 20;
    let long = total.is_some_and(|total| !unit_is_bytes || total > WORTH_A_BAR);
    if !std::io::stderr().is_terminal() || !long {
        return ProgressBar::hidden();
    }
    let template = if unit_is_bytes {
        "{bar:40} {percent:>3} %  {decimal_bytes} of {decimal_total_bytes}  {eta} left"
    } else {
        "{bar:40} {percent:>3} %  {eta} left"
    };
    let style =
        ProgressStyle::with_template(template).unwrap_or_else(|_| ProgressStyle::default_bar());
    ProgressBar::new(total.unwrap_or(0)).with_style(style)
}

/// Where there is no terminal nobody sees it.
#[cfg(not(feature = "pc"))]
pub(super) struct Progress;

#[cfg(not(feature = "pc"))]
impl Progress {
    pub(super) fn inc(&self, _: u64) {}
    pub(super) fn set_position(&self, _: u64) {}
    pub(super) fn finish_and_clear(&self) {}
}

/// None.
#[cfg(not(feature = "pc"))]
pub(super) fn progress_bar(_: Option<u64>, _: bool) -> Progress {
    Progress
}
