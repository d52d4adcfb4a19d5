//! An hour of weather from air, dew point and cover alone: what the sky and the sun then do.

use jiff::civil::Date;

use super::sun::{Place, SunOfHour, days_since_j2000};
use super::{Hour, Station, sky};

/// Wind where nothing tells it, m/s: the mean of the two weather files kept with the program is 3.6. Counts only for a house
/// whose outside film follows the wind.
pub(crate) const WIND_M_S: f64 = 3.0;
/// How far the dew point lies below the night's low, K: 2.5 on winter nights of the two weather files, with a scatter of 3.5.
pub(crate) const DEW_BELOW_LOW_K: f64 = 2.5;

/// A row from air, dew point and cover alone.
pub(crate) fn modelled(
    station: &Station,
    date: Date,
    hour: u8,
    air_c: f64,
    dew_c: f64,
    tenths: f64,
    wind_m_s: f64,
) -> Hour {
    let (month, day) = (date.month().unsigned_abs(), date.day().unsigned_abs());
    let dew_point_c = dew_c.min(air_c);
    let [global, direct, diffuse] = sunshine(station, date, hour, tenths);
    Hour {
        year: date.year(),
        month,
        day,
        hour,
        dry_bulb_c: air_c,
        dew_point_c,
        pressure_pa: 101_325.0,
        infrared_w_m2: sky::horizontal_infrared_w_m2(
            sky::walton_emissivity(dew_point_c, tenths),
            air_c,
        ),
        global_horizontal_wh_m2: global,
        direct_normal_wh_m2: direct,
        diffuse_horizontal_wh_m2: diffuse,
        wind_m_s,
        opaque_tenths: Some(tenths),
        snow_depth_cm: None,
    }
}

/// What clouds leave of the sun on a horizontal plane: 1 − 0.75 (N/8)^3.4 with N eighths.
///
/// Source: Kasten, F. and Czeplak, G. (1980), Solar Energy 24: 177–189 (from memory).
pub(crate) fn sun_through_cloud(tenths: f64) -> f64 {
    1.0 - 0.75 * libm::pow(tenths.clamp(0.0, 10.0) / 10.0, 3.4)
}

/// Global horizontal, direct normal and diffuse horizontal, Wh/m² in the hour.
///
/// Sources: clear-sky global 1098 cos z e^(−0.057/cos z) (Haurwitz 1945), clear-sky direct 1353 · 0.7^(m^0.678) (Meinel and
/// Meinel 1976), both from memory. Direct sun is dimmed in line with the cover; the sky makes up the rest.
pub(super) fn sunshine(station: &Station, date: Date, hour: u8, tenths: f64) -> [f64; 3] {
    const PARTS: u32 = 4;
    let place = Place::new(station.latitude_deg, station.longitude_deg);
    let (month, day) = (date.month().unsigned_abs(), date.day().unsigned_abs());
    let mut sums = [0.0; 3];
    for part in 0..PARTS {
        let clock_h = f64::from(hour) - 1.0 + (f64::from(part) + 0.5) / f64::from(PARTS);
        let hour_ut = clock_h - station.utc_offset_h;
        let days = days_since_j2000(i32::from(date.year()), month, day, hour_ut);
        let up = SunOfHour::at(days).seen_from(&place, hour_ut).up;
        if up > 0.01 {
            let global = 1098.0 * up * libm::exp(-0.057 / up) * sun_through_cloud(tenths);
            let clear = 1353.0 * libm::pow(0.7, libm::pow(1.0 / up, 0.678));
            let direct = (clear * (1.0 - tenths / 10.0)).clamp(0.0, global / up);
            let each = 1.0 / f64::from(PARTS);
            sums[0] += global * each;
            sums[1] += direct * each;
            sums[2] += (global - direct * up).max(0.0) * each;
        }
    }
    sums
}

/// Cover, tenths, that leaves this share of the clear sky's sun: [`sun_through_cloud`] backwards.
pub(super) fn cover_of_sun(share: f64) -> f64 {
    10.0 * libm::pow(((1.0 - share) / 0.75).clamp(0.0, 1.0), 1.0 / 3.4)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn cover_and_sun_are_each_others_inverse() {
        for tenths in [0.0, 2.5, 5.0, 9.0, 10.0] {
            assert!((cover_of_sun(sun_through_cloud(tenths)) - tenths).abs() < 1e-9);
        }
        assert!((cover_of_sun(1.2) - 0.0).abs() < 1e-12);
        assert!((cover_of_sun(0.1) - 10.0).abs() < 1e-12);
    }
}
