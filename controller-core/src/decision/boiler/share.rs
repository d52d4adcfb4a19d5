//! Shares of time, in hundredths: how long a call lasts and how long the boiler rests after it.

use super::super::View;
use crate::settings::{BoilerKind, Settings};
use crate::time::Duration;
use crate::units::Kelvin;

/// Supply below target over which an injection's share of time is spread, K.
const INJECTION_SPAN: i64 = 15;
/// Supply above slab an injection aims for at most, K.
const INJECTION_ABOVE_SLAB: Kelvin = Kelvin::from_milli(25_000);
/// Shares of time, in hundredths.
const SHARE_LEAST: u32 = 15;
const SHARE_WHOLE: u32 = 75;

/// Share of time wanted, in hundredths: an injection's falls as the supply nears its target.
pub(super) fn wanted(view: &View<'_>, duty: u32) -> u32 {
    if view.settings.boiler != BoilerKind::Injection {
        return duty;
    }
    let Some(supply) = view.readings.supply.value else {
        return duty;
    };
    let above_slab = view.slab().map_or(view.settings.supply_target, |slab| {
        slab + INJECTION_ABOVE_SLAB
    });
    let target = view
        .settings
        .supply_target
        .min(view.row.call.supply_target)
        .min(above_slab);
    let hundredths =
        i64::from((target - supply).to_bits()).saturating_mul(100) / (INJECTION_SPAN << 16);
    let share = u32::try_from(hundredths)
        .unwrap_or(0)
        .clamp(SHARE_LEAST, 100);
    let share = if share > SHARE_WHOLE { 100 } else { share };
    share.min(duty)
}

/// On-time of one call at a share of time; [`Duration::MAX`] for "until enough".
pub(super) fn on_part(settings: &Settings, share: u32) -> Duration {
    match (share, settings.boiler) {
        (100.., _) => Duration::MAX,
        (_, BoilerKind::Injection) => settings
            .injection_period
            .share(share, 100)
            .max(settings.injection_min_on),
        (_, BoilerKind::Firing | BoilerKind::None) => settings.firing_min_on,
    }
}

/// Rest that keeps the share; an oversized boiler rests a period longer.
pub(super) fn off_part(settings: &Settings, share: u32, oversized: bool) -> Duration {
    let on = match settings.boiler {
        BoilerKind::Injection => settings
            .injection_period
            .share(share, 100)
            .max(settings.injection_min_on),
        BoilerKind::Firing | BoilerKind::None => settings.firing_min_on,
    };
    let rest = on.share(100_u32.saturating_sub(share), share);
    let extra = if oversized && settings.boiler == BoilerKind::Injection {
        settings.injection_period
    } else {
        Duration::ZERO
    };
    rest + extra
}
