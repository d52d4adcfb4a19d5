//! Whole winters with nothing wrong but the sensors' scatter, beside the plain pair of thermostats.

use controller_core::alarm::{Alarm, AlarmSet};
use controller_core::restart::Restart;
use controller_core::settings::Settings;
use controller_core::time::Instant;
use controller_core::{Controller, Inputs, StepReport};
use jiff::civil::Date;
use serde::{Deserialize, Serialize};

use super::houses::House;
use super::measure::rounded;
use super::results::Numbered;
use super::weather::built_in;
use crate::files::quantity::{Dimension, Units, convert, told};
use crate::questions::compare::count::{Count, count_with_totals};
use crate::questions::compare::plain::{Plain, PlainRules, PumpRule};
use crate::sim::cancel::{Cancel, Cancelled};
use crate::sim::closed_loop::Pace;
use crate::sim::season::Run;
use crate::sim::stepper::Stepper;
use crate::sim::tally::Season;
use crate::sim::weather::{ColdSnap, Series, SnapStart, WeatherYear};

/// First day.
const FROM: Date = jiff::civil::date(2025, 10, 15);
/// Length, d.
const DAYS: u32 = 182;

/// What is asked: every house in every weather, with every scatter and seed.
pub struct Winters {
    houses: Vec<House>,
    years: Vec<(&'static str, WeatherYear)>,
    /// Standard deviation of the sensors' fixed errors, K; `None`: the site's own.
    scatters_k: Vec<Option<f64>>,
    seeds: std::ops::Range<u64>,
    days: u32,
}

/// One control's winter.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Course {
    /// Coldest slab zone, °C.
    pub slab_min_c: f64,
    /// True slab below its target, K·h.
    pub below_target_kh: f64,
    /// Wood, kg.
    pub wood_kg: f64,
    /// Boiler's heat, kWh.
    pub boiler_kwh: f64,
    /// Circulator's electricity, kWh.
    pub pump_kwh: f64,
    /// Circulator starts.
    pub starts: u32,
    /// Boiler calls.
    pub calls: u32,
    /// Calls without which the slab would have held until morning, or that gave no heat.
    pub useless_calls: u32,
}

/// A winter's result.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Winter {
    /// Its number in the order asked for.
    pub number: u64,
    /// The house.
    pub house: String,
    /// The weather.
    pub weather: String,
    /// Scatter of the sensors; `None`: the site's own.
    pub scatter_k: Option<f64>,
    /// Seed of scatter, noise and cold snap.
    pub seed: u64,
    /// The controller.
    pub ours: Course,
    /// Alarms that rang, with how often.
    pub rings: Vec<(String, u32)>,
    /// Pieces of advice, with how often.
    pub advice: Vec<(String, u32)>,
    /// The plain pair: a slab thermostat with a differential, and a bare call at the settings' limit.
    pub plain: Course,
}

impl Numbered for Winter {
    fn number(&self) -> u64 {
        self.number
    }
}

impl Winters {
    /// With the built-in weather.
    ///
    /// # Errors
    /// It cannot be read: a fault of this program.
    pub fn new(
        houses: Vec<House>,
        scatters_k: Vec<Option<f64>>,
        seeds: std::ops::Range<u64>,
        days: Option<u32>,
    ) -> anyhow::Result<Self> {
        let (golden, chicago) = built_in()?;
        let snap = |year: &WeatherYear, depth_k| {
            year.with_cold_snap(&ColdSnap {
                depth_k,
                days: 4.0,
                ramp_h: 12.0,
                start: SnapStart::Seeded(1),
            })
        };
        let years = vec![
            ("golden-snap-6K", snap(&golden, 6.0)?),
            ("golden", golden),
            ("chicago-snap-8K", snap(&chicago, 8.0)?),
            ("chicago", chicago),
        ];
        Ok(Self {
            houses,
            years,
            scatters_k,
            seeds,
            days: days.unwrap_or(DAYS),
        })
    }

    /// How many winters.
    #[must_use]
    pub fn len(&self) -> u64 {
        let cases = self.houses.len() * self.years.len() * self.scatters_k.len();
        cases as u64 * (self.seeds.end - self.seeds.start)
    }

    /// Are there none?
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.len() == 0
    }

    /// What is asked, in words.
    #[must_use]
    pub fn arguments(&self) -> String {
        let houses: Vec<&str> = self
            .houses
            .iter()
            .map(|house| house.name.as_str())
            .collect();
        let scatter =
            |scatter: &Option<f64>| scatter.map_or("site".to_owned(), |k| format!("{k} K"));
        let scatters: Vec<String> = self.scatters_k.iter().map(scatter).collect();
        format!(
            "{} days with nothing wrong, seeds {}..{}, scatter {}, houses {}",
            self.days,
            self.seeds.start,
            self.seeds.end,
            scatters.join(", "),
            houses.join(", ")
        )
    }

    /// Everything the results depend on but the program.
    #[must_use]
    pub fn fingerprint(&self) -> String {
        let house = |house: &House| format!("{:?} {:?}", house.site, house.settings);
        let houses: Vec<String> = self.houses.iter().map(house).collect();
        format!("{} {}", self.arguments(), houses.join(" "))
    }

    /// Runs the winter of this number.
    ///
    /// # Errors
    /// Ctrl-C, or the weather cannot be used.
    pub fn winter(&self, number: u64, cancel: &Cancel) -> anyhow::Result<Winter> {
        let seeds = self.seeds.end - self.seeds.start;
        let seed = self.seeds.start + number % seeds;
        let case = (number / seeds) as usize;
        let scatter_k = self.scatters_k[case % self.scatters_k.len()];
        let case = case / self.scatters_k.len();
        let (weather, year) = &self.years[case % self.years.len()];
        let house = &self.houses[case / self.years.len()];
        let mut plant = house.site.plant.clone();
        if let Some(scatter_k) = scatter_k {
            let sensors = &mut plant.sensors;
            for sensor in [
                &mut sensors.supply,
                &mut sensors.return_,
                &mut sensors.slab,
                &mut sensors.outdoor,
            ] {
                sensor.scatter_k = scatter_k;
            }
        }
        let series = Series::new(year, year.period(FROM, self.days)?, &house.site.glazing());
        let run = Run {
            plant: &plant,
            settings: &house.settings,
            weather: &series,
            seed,
            pace: Pace::USUAL,
        };
        let start = Instant::from_millis(0);
        let mut heard = Heard::new(&house.settings);
        let ours = course(&run, &mut heard, cancel)?;
        let rules = PlainRules {
            pump: PumpRule::Differential,
            call_below: house.settings.backup_slab,
        };
        let mut plain = Plain::new(rules, &house.settings, start);
        let plain = course(&run, &mut plain, cancel)?;
        let (advice, rings) = heard.onsets().partition(|(alarm, _)| alarm.is_advice());
        let named = |onsets: Vec<(Alarm, u32)>| {
            let named = onsets
                .into_iter()
                .map(|(alarm, count)| (alarm.name().to_owned(), count));
            named.collect()
        };
        Ok(Winter {
            number,
            house: house.name.clone(),
            weather: (*weather).to_owned(),
            scatter_k,
            seed,
            ours,
            rings: named(rings),
            advice: named(advice),
            plain,
        })
    }
}

fn course<S: Stepper>(
    run: &Run<'_>,
    controller: &mut S,
    cancel: &Cancel,
) -> Result<Course, Cancelled> {
    let (count, totals): (Count, Season) = count_with_totals(run, controller, cancel)?;
    Ok(Course {
        slab_min_c: rounded(totals.slab_true_min_c),
        below_target_kh: rounded(count.below_target_kh),
        wood_kg: rounded(count.wood_kg),
        boiler_kwh: rounded(count.boiler_heat_kwh),
        pump_kwh: rounded(count.pump_kwh),
        starts: count.starts,
        calls: count.calls,
        useless_calls: count.useless_calls,
    })
}

/// The controller with its alarms counted.
struct Heard {
    controller: Controller,
    last: AlarmSet,
    onsets: Vec<u32>,
}

impl Heard {
    fn new(settings: &Settings) -> Self {
        Self {
            controller: Controller::boot(
                settings.clone(),
                Instant::from_millis(0),
                Restart::ORDINARY,
            ),
            last: AlarmSet::NONE,
            onsets: vec![0; Alarm::ALL.len()],
        }
    }

    fn onsets(&self) -> impl Iterator<Item = (Alarm, u32)> {
        let onsets = self.onsets.iter().copied();
        Alarm::ALL
            .iter()
            .copied()
            .zip(onsets)
            .filter(|(_, count)| *count > 0)
    }
}

impl Stepper for Heard {
    type Report = StepReport;

    fn begin(&mut self, origin: Instant) {
        self.controller.begin(origin);
    }

    fn boot(&mut self, settings: &Settings, now: Instant, restart: Restart) {
        Stepper::boot(&mut self.controller, settings, now, restart);
    }

    fn next(&self) -> Instant {
        self.controller.next()
    }

    fn settings(&self) -> &Settings {
        self.controller.settings()
    }

    fn step(&mut self, now: Instant, inputs: &Inputs<'_>) -> Option<StepReport> {
        let mut place = None;
        self.step_in(now, inputs, &mut place)
            .is_some()
            .then_some(place)
            .flatten()
    }

    fn step_in<'r>(
        &mut self,
        now: Instant,
        inputs: &Inputs<'_>,
        place: &'r mut Option<StepReport>,
    ) -> Option<&'r StepReport> {
        let report = self.controller.step_in(now, inputs, place)?;
        let alarms = report.row.alarms;
        if alarms != self.last {
            for (alarm, count) in Alarm::ALL.iter().zip(&mut self.onsets) {
                *count += u32::from(alarms.has(*alarm) && !self.last.has(*alarm));
            }
            self.last = alarms;
        }
        Some(report)
    }
}

/// Winters of one house and weather together, as a table.
#[must_use]
pub fn text(winters: &[Winter], units: Units) -> String {
    let mut text = format!(
        "{:<34}{:>8}{:>9}{:>11}{:>7}{:>8}{:>8}{:>7}{:>9}{:>7}{:>8}\n",
        "",
        "winters",
        "coldest",
        told_below(units),
        "wood",
        "boiler",
        "pump",
        "starts",
        "useless",
        "rings",
        "advice"
    );
    let mut keys: Vec<(&str, &str, Option<f64>)> = Vec::new();
    for winter in winters {
        let key = (
            winter.house.as_str(),
            winter.weather.as_str(),
            winter.scatter_k,
        );
        if !keys.contains(&key) {
            keys.push(key);
        }
    }
    for (house, weather, scatter_k) in keys {
        let these: Vec<&Winter> = winters
            .iter()
            .filter(|w| w.house == house && w.weather == weather && w.scatter_k == scatter_k)
            .collect();
        let scatter = scatter_k.map_or(String::new(), |k| told(&format!(", {k} K"), units));
        let onsets = |of: fn(&Winter) -> &Vec<(String, u32)>| {
            let count: u32 = these
                .iter()
                .flat_map(|w| of(w))
                .map(|(_, count)| count)
                .sum();
            count.to_string()
        };
        let ours: Vec<&Course> = these.iter().map(|w| &w.ours).collect();
        let plain: Vec<&Course> = these.iter().map(|w| &w.plain).collect();
        let words = [onsets(|w| &w.rings), onsets(|w| &w.advice)];
        text.push_str(&row(
            &format!("{house}, {weather}{scatter}"),
            &ours,
            words,
            units,
        ));
        text.push_str(&row(
            "  plain pair",
            &plain,
            [String::new(), String::new()],
            units,
        ));
    }
    text.push_str(&format!(
        "\nColdest slab zone, of all; the others are means a winter, {} target of the true slab, useless calls as in\n\
         host-sim compare; rings and pieces of advice are onsets in all winters of the line.\n",
        told_below(units)
    ));
    text
}

/// Heading of the degree-hours.
const fn told_below(units: Units) -> &'static str {
    match units {
        Units::Si => "K·h below",
        Units::Us => "°F·h below",
    }
}

fn row(name: &str, courses: &[&Course], words: [String; 2], units: Units) -> String {
    let count = courses.len() as f64;
    let mean =
        |of: fn(&Course) -> f64| courses.iter().map(|course| of(course)).sum::<f64>() / count;
    let coldest = courses
        .iter()
        .map(|course| course.slab_min_c)
        .fold(f64::INFINITY, f64::min);
    format!(
        "{name:<34}{:>8}{:>9.2}{:>11.2}{:>7.0}{:>8.0}{:>8.1}{:>7.0}{:>9.1}{:>7}{:>8}\n",
        courses.len(),
        convert(coldest, Dimension::Temperature, units).0,
        convert(
            mean(|c| c.below_target_kh),
            Dimension::TemperatureDifference,
            units
        )
        .0,
        convert(mean(|c| c.wood_kg), Dimension::Mass, units).0,
        mean(|c| c.boiler_kwh),
        mean(|c| c.pump_kwh),
        mean(|c| f64::from(c.starts)),
        mean(|c| f64::from(c.useless_calls)),
        words[0],
        words[1]
    )
}
