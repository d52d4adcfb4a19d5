//! The weather of the spells: windows about the coldest weeks of the built-in years, as they are, shifted, and with
//! cold snaps.

use jiff::civil::{Date, date};

use crate::files;
use crate::files::weather::WeatherError;
use crate::sim::weather::{ColdSnap, Glazing, Series, SnapStart, WeatherYear};

/// Windows of this length stand where the table says; longer ones begin half the difference earlier.
const USUAL_DAYS: u32 = 14;

/// A year and its windows.
struct Year {
    name: &'static str,
    year: WeatherYear,
    from: [Date; 3],
}

/// Every window.
pub struct Windows {
    years: Vec<Year>,
    days: u32,
}

impl Windows {
    /// Windows of so many days.
    ///
    /// # Errors
    /// The built-in weather cannot be read: a fault of this program.
    pub fn new(days: u32) -> anyhow::Result<Self> {
        let (golden, chicago) = built_in()?;
        let snap = |year: &WeatherYear, depth_k, days, month, day| {
            year.with_cold_snap(&ColdSnap {
                depth_k,
                days,
                ramp_h: 12.0,
                start: SnapStart::On { month, day },
            })
        };
        let at_golden = [date(2025, 12, 12), date(2026, 1, 13), date(2026, 2, 1)];
        let at_chicago = [date(2025, 12, 31), date(2026, 1, 15), date(2026, 1, 29)];
        let year = |name, year, from| Year { name, year, from };
        let years = vec![
            year("golden", golden.clone(), at_golden),
            year("chicago", chicago.clone(), at_chicago),
            year("golden-3K", golden.with_offset(-3.0), at_golden),
            year("chicago-2K", chicago.with_offset(-2.0), at_chicago),
            year("golden-snap-6K", snap(&golden, 6.0, 4.0, 2, 7)?, at_golden),
            year(
                "chicago-snap-8K",
                snap(&chicago, 8.0, 3.0, 1, 22)?,
                at_chicago,
            ),
            year("golden-snap-9K", snap(&golden, 9.0, 2.0, 1, 20)?, at_golden),
            year("chicago+2K", chicago.with_offset(2.0), at_chicago),
        ];
        Ok(Self { years, days })
    }

    /// How many there are.
    #[must_use]
    pub fn len(&self) -> usize {
        self.years.iter().map(|year| year.from.len()).sum()
    }

    /// Are there none?
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.years.is_empty()
    }

    /// Length of each, d.
    #[must_use]
    pub fn days(&self) -> u32 {
        self.days
    }

    /// Length of each, s.
    #[must_use]
    pub fn length_s(&self) -> u64 {
        u64::from(self.days) * 86_400
    }

    /// Name and weather of the window of this number, for a house with this glazing.
    ///
    /// # Errors
    /// The window does not fit into the year: a fault of this program.
    pub fn window(&self, index: usize, glazing: &Glazing) -> anyhow::Result<(String, Series)> {
        let per_year = self.years[0].from.len();
        let year = &self.years[index / per_year];
        let usual = year.from[index % per_year];
        let earlier = i64::from(self.days.saturating_sub(USUAL_DAYS) / 2);
        let from = usual - jiff::Span::new().days(earlier);
        let period = year.year.period(from, self.days)?;
        Ok((
            format!("{} from {}", year.name, usual.strftime("%d %b")),
            Series::new(&year.year, period, glazing),
        ))
    }
}

/// Golden and Chicago.
///
/// # Errors
/// They cannot be read: a fault of this program.
pub(super) fn built_in() -> Result<(WeatherYear, WeatherYear), WeatherError> {
    Ok((files::weather::demo()?, files::weather::hard()?))
}
