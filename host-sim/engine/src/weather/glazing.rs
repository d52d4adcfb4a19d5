//! Sunshine on tilted planes: from the three hourly components of a weather file to watts on the glazing.

use super::sun::SunPosition;

const DEGREE: f64 = core::f64::consts::PI / 180.0;

/// Smallest cosine of the zenith angle the Hay–Davies ratio divides by: cos 89° (customary guard, no source).
const LOWEST_COS_ZENITH: f64 = 0.017_45;

/// One plane of the glazing.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Surface {
    /// Area, m².
    pub area_m2: f64,
    /// Angle from horizontal, °: 0 faces the sky, 90 is a wall.
    pub tilt_deg: f64,
    /// Direction the outside faces, ° clockwise from north: 90 east, 180 south.
    pub azimuth_deg: f64,
}

/// How diffuse sky light is spread over the sky.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum DiffuseModel {
    /// Evenly (Liu and Jordan 1963): plain and a little dark on the sunny side.
    Isotropic,
    /// Partly round the sun (Hay and Davies 1980).
    #[default]
    HayDavies,
}

/// The glazed planes of a house and the light that reaches them.
#[derive(Debug, Clone, PartialEq)]
pub struct Glazing {
    /// The planes.
    pub surfaces: Vec<Surface>,
    /// Share of sunlight the ground throws back, 0–1; 0.2 is customary for bare ground and grass.
    pub ground_albedo: f64,
    /// The diffuse model.
    pub diffuse: DiffuseModel,
}

/// Ground reflectance customary for ground without snow (Liu and Jordan 1963).
pub const GROUND_ALBEDO: f64 = 0.2;

impl Glazing {
    /// The six planes of a straight-sided house with a symmetric pitched roof.
    ///
    /// Width is the gable's, `ridge_azimuth_deg` the direction in which one gable faces, ° clockwise from north.
    #[must_use]
    pub fn pitched_house(
        width_m: f64,
        length_m: f64,
        eaves_m: f64,
        ridge_m: f64,
        ridge_azimuth_deg: f64,
    ) -> Self {
        let rise = ridge_m - eaves_m;
        let half = width_m / 2.0;
        let slope_m = (half * half + rise * rise).sqrt();
        let tilt_deg = libm::atan2(rise, half) / DEGREE;
        let gable_m2 = width_m * (eaves_m + rise / 2.0);
        let plane = |area_m2, tilt_deg, turn_deg| Surface {
            area_m2,
            tilt_deg,
            azimuth_deg: (ridge_azimuth_deg + turn_deg) % 360.0,
        };
        Self {
            surfaces: vec![
                plane(slope_m * length_m, tilt_deg, 90.0),
                plane(slope_m * length_m, tilt_deg, 270.0),
                plane(eaves_m * length_m, 90.0, 90.0),
                plane(eaves_m * length_m, 90.0, 270.0),
                plane(gable_m2, 90.0, 0.0),
                plane(gable_m2, 90.0, 180.0),
            ],
            ground_albedo: GROUND_ALBEDO,
            diffuse: DiffuseModel::default(),
        }
    }

    /// Total area, m².
    #[must_use]
    pub fn area_m2(&self) -> f64 {
        self.surfaces.iter().map(|surface| surface.area_m2).sum()
    }
}

/// The components of sunlight at one time, W/m² (or Wh/m² of one hour).
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Sunlight {
    /// On a horizontal plane, sun and sky together.
    pub global_horizontal: f64,
    /// On a plane facing the sun, sun alone.
    pub direct_normal: f64,
    /// On a horizontal plane, sky alone.
    pub diffuse_horizontal: f64,
    /// Direct normal above the atmosphere.
    pub extraterrestrial_normal: f64,
}

/// A plane made ready: its outward normal and view factors.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Plane {
    area_m2: f64,
    east: f64,
    north: f64,
    up: f64,
}

impl Plane {
    pub(super) fn new(surface: &Surface) -> Self {
        let (sin_tilt, cos_tilt) = libm::sincos(surface.tilt_deg * DEGREE);
        let (sin_azimuth, cos_azimuth) = libm::sincos(surface.azimuth_deg * DEGREE);
        Self {
            area_m2: surface.area_m2,
            east: sin_tilt * sin_azimuth,
            north: sin_tilt * cos_azimuth,
            up: cos_tilt,
        }
    }

    /// Cosine of the angle of incidence, 0 when the sun is behind the plane.
    fn incidence(&self, sun: &SunPosition) -> f64 {
        (self.east * sun.east + self.north * sun.north + self.up * sun.up).max(0.0)
    }

    /// Radiation on the whole plane, W for `light` in W/m².
    pub(super) fn incident_w(
        &self,
        light: &Sunlight,
        sun: &SunPosition,
        model: DiffuseModel,
        albedo: f64,
    ) -> f64 {
        let cos_incidence = self.incidence(sun);
        let sky_view = (1.0 + self.up) / 2.0;
        let sky = match model {
            DiffuseModel::Isotropic => sky_view,
            DiffuseModel::HayDavies => {
                let round_the_sun = if light.extraterrestrial_normal > 0.0 {
                    (light.direct_normal / light.extraterrestrial_normal).clamp(0.0, 1.0)
                } else {
                    0.0
                };
                round_the_sun * cos_incidence / sun.up.max(LOWEST_COS_ZENITH)
                    + (1.0 - round_the_sun) * sky_view
            }
        };
        let ground = albedo * light.global_horizontal * (1.0 - self.up) / 2.0;
        self.area_m2
            * (light.direct_normal * cos_incidence + light.diffuse_horizontal * sky + ground)
    }
}

/// Radiation on a tilted plane, W/m², for one position of the sun.
///
/// Sources: Duffie and Beckman, *Solar Engineering of Thermal Processes*, §2.15 (isotropic) and §2.16 (Hay–Davies).
#[must_use]
pub fn tilted_irradiance(
    surface: &Surface,
    light: &Sunlight,
    sun: &SunPosition,
    model: DiffuseModel,
    ground_albedo: f64,
) -> f64 {
    let unit = Surface {
        area_m2: 1.0,
        ..*surface
    };
    Plane::new(&unit).incident_w(light, sun, model, ground_albedo)
}
