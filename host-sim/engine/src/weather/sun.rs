//! Where the sun stands.
//!
//! Source: Meeus, *Astronomical Algorithms*, 2nd ed., chapters 7, 16 and 25 (low-accuracy sun, ±0.01°), in the form
//! NOAA's Global Monitoring Laboratory publishes as "solar calculation details". The year of the date matters: the
//! sun of one calendar day differs by up to 0.06° between years.

const DEGREE: f64 = core::f64::consts::PI / 180.0;

/// Solar constant, W/m² (ASTM E490-00).
const SOLAR_CONSTANT_W_M2: f64 = 1366.1;

/// Sun angles that change slowly: good for the hour around the instant they were computed for.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SunOfHour {
    /// Sine of the declination.
    sin_declination: f64,
    /// Cosine of the declination.
    cos_declination: f64,
    /// Apparent minus mean solar time, minutes.
    equation_of_time_min: f64,
}

/// Sun's direction as seen from a place.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SunPosition {
    /// Angle above the horizon, °, without refraction.
    pub elevation_deg: f64,
    /// Angle above the horizon, °, with standard refraction: what the eye and the slab see.
    pub apparent_elevation_deg: f64,
    /// Unit vector to the apparent sun: towards east.
    pub east: f64,
    /// Unit vector to the apparent sun: towards north.
    pub north: f64,
    /// Unit vector to the apparent sun: upwards; the cosine of the apparent zenith angle.
    pub up: f64,
}

impl SunPosition {
    /// Azimuth, ° clockwise from north, 0–360.
    #[must_use]
    pub fn azimuth_deg(&self) -> f64 {
        let azimuth = libm::atan2(self.east, self.north) / DEGREE;
        if azimuth < 0.0 {
            azimuth + 360.0
        } else {
            azimuth
        }
    }
}

/// Days from 2000-01-01 12:00 to `hour` (0–24, may lie outside) of a Gregorian date, on the same clock.
///
/// Source: Meeus chapter 7. A 29 February in a common year counts as 1 March.
#[must_use]
pub fn days_since_j2000(year: i32, month: u8, day: u8, hour: f64) -> f64 {
    let (year, month) = if month <= 2 {
        (f64::from(year - 1), f64::from(month) + 12.0)
    } else {
        (f64::from(year), f64::from(month))
    };
    let century = (year / 100.0).floor();
    let julian_day = (365.25 * (year + 4716.0)).floor()
        + (30.6001 * (month + 1.0)).floor()
        + f64::from(day)
        + (2.0 - century + (century / 4.0).floor())
        - 1524.5;
    julian_day - 2_451_545.0 + hour / 24.0
}

impl SunOfHour {
    /// The slow angles at an instant given in days since J2000 (universal time).
    #[must_use]
    pub fn at(days_since_j2000_ut: f64) -> Self {
        let t = days_since_j2000_ut / 36_525.0;
        let mean_longitude = (280.466_46 + t * (36_000.769_83 + t * 0.000_303_2)) * DEGREE;
        let mean_anomaly = (357.529_11 + t * (35_999.050_29 - t * 0.000_153_7)) * DEGREE;
        let eccentricity = 0.016_708_634 - t * (0.000_042_037 + t * 0.000_000_126_7);
        let (sin_m, cos_m) = libm::sincos(mean_anomaly);
        let sin_2m = 2.0 * sin_m * cos_m;
        let sin_3m = sin_m * (3.0 - 4.0 * sin_m * sin_m);
        let centre = sin_m * (1.914_602 - t * (0.004_817 + t * 0.000_014))
            + sin_2m * (0.019_993 - t * 0.000_101)
            + sin_3m * 0.000_289;
        let (sin_node, cos_node) = libm::sincos((125.04 - 1934.136 * t) * DEGREE);
        let apparent_longitude =
            mean_longitude + (centre - 0.005_69 - 0.004_78 * sin_node) * DEGREE;
        let obliquity_deg = 23.0
            + (26.0 + (21.448 - t * (46.815 + t * (0.000_59 - t * 0.001_813))) / 60.0) / 60.0
            + 0.002_56 * cos_node;
        let obliquity = obliquity_deg * DEGREE;

        let sin_declination = libm::sin(obliquity) * libm::sin(apparent_longitude);
        let half_tangent = libm::tan(obliquity / 2.0);
        let y = half_tangent * half_tangent;
        let (sin_2l, cos_2l) = libm::sincos(2.0 * mean_longitude);
        let equation_of_time = y * sin_2l - 2.0 * eccentricity * sin_m
            + 4.0 * eccentricity * y * sin_m * cos_2l
            - y * y * sin_2l * cos_2l
            - 1.25 * eccentricity * eccentricity * sin_2m;
        Self {
            sin_declination,
            cos_declination: (1.0 - sin_declination * sin_declination).sqrt(),
            equation_of_time_min: 4.0 * equation_of_time / DEGREE,
        }
    }

    /// Declination, °, + north.
    #[must_use]
    pub fn declination_deg(&self) -> f64 {
        libm::asin(self.sin_declination) / DEGREE
    }

    /// Apparent minus mean solar time, minutes.
    #[must_use]
    pub fn equation_of_time_min(&self) -> f64 {
        self.equation_of_time_min
    }

    /// Direction of the sun from `place` at `hour_ut` (hours of universal time, any whole days ignored).
    #[must_use]
    pub fn seen_from(&self, place: &Place, hour_ut: f64) -> SunPosition {
        let solar_hour = hour_ut + self.equation_of_time_min / 60.0 + place.longitude_deg / 15.0;
        let (sin_h, cos_h) = libm::sincos((solar_hour - 12.0) * 15.0 * DEGREE);
        let up = place.sin_latitude * self.sin_declination
            + place.cos_latitude * self.cos_declination * cos_h;
        let east = -self.cos_declination * sin_h;
        let north = place.cos_latitude * self.sin_declination
            - place.sin_latitude * self.cos_declination * cos_h;
        let elevation = libm::asin(up.clamp(-1.0, 1.0));
        let apparent = elevation + refraction_deg(elevation / DEGREE) * DEGREE;
        // Refraction lifts the sun along its own bearing.
        let (apparent_up, apparent_level) = libm::sincos(apparent);
        let level = (east * east + north * north).sqrt().max(1e-12);
        SunPosition {
            elevation_deg: elevation / DEGREE,
            apparent_elevation_deg: apparent / DEGREE,
            east: east / level * apparent_level,
            north: north / level * apparent_level,
            up: apparent_up,
        }
    }
}

/// A place on the earth, with its latitude's sine and cosine kept.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Place {
    sin_latitude: f64,
    cos_latitude: f64,
    longitude_deg: f64,
}

impl Place {
    /// Latitude (° + north, −90..90) and longitude (° + east).
    #[must_use]
    pub fn new(latitude_deg: f64, longitude_deg: f64) -> Self {
        let (sin_latitude, cos_latitude) = libm::sincos(latitude_deg * DEGREE);
        Self {
            sin_latitude,
            cos_latitude,
            longitude_deg,
        }
    }
}

/// Refraction at 101 325 Pa and 10 °C, °, for a true elevation in °. Source: NOAA (three-range approximation).
#[must_use]
pub fn refraction_deg(elevation_deg: f64) -> f64 {
    let h = elevation_deg;
    let arc_seconds = if h > 85.0 {
        0.0
    } else if h > 5.0 {
        let cotangent = 1.0 / libm::tan(h * DEGREE);
        let square = cotangent * cotangent;
        cotangent * (58.1 + square * (-0.07 + square * 0.000_086))
    } else if h > -0.575 {
        1735.0 + h * (-518.2 + h * (103.4 + h * (-12.79 + h * 0.711)))
    } else {
        -20.772 / libm::tan(h * DEGREE)
    };
    arc_seconds / 3600.0
}

/// Direct normal radiation above the atmosphere, W/m², for a day of the year (1–366).
///
/// Source: Spencer, J. W. (1971), "Fourier series representation of the position of the sun", Search 2(5): 172.
#[must_use]
pub fn extraterrestrial_normal_w_m2(day_of_year: f64) -> f64 {
    let (sin, cos) = libm::sincos(2.0 * core::f64::consts::PI * (day_of_year - 1.0) / 365.0);
    let (sin_2, cos_2) = (2.0 * sin * cos, 2.0 * cos * cos - 1.0);
    SOLAR_CONSTANT_W_M2
        * (1.000_11 + 0.034_221 * cos + 0.001_28 * sin + 0.000_719 * cos_2 + 0.000_077 * sin_2)
}

#[cfg(test)]
#[path = "sun_tests.rs"]
mod tests;
