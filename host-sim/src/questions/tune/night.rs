//! One winter in pieces of five minutes: its coldest night for a picture, and why a slab was not held.

use controller_core::units::Celsius;
use jiff::civil::{Date, DateTime};

use super::candidate::Candidate;
use super::lab::Stopped;
use super::screen::Scenario;
use crate::sim::cancel::{Cancel, Cancelled};
use crate::sim::tally::Season;

/// Length of a piece, s.
const PIECE_S: u64 = 300;
const PIECES_A_DAY: usize = (86_400 / PIECE_S) as usize;

/// Five minutes of a winter.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Piece {
    /// Slab at its sensor, true, °C.
    pub slab_c: f64,
    /// Outdoor reading, °C.
    pub outdoor_c: f64,
    /// Did the circulator run at its end?
    pub circulator: bool,
    /// Was the boiler called at its end?
    pub boiler: bool,
}

/// A whole winter.
#[derive(Clone, Debug)]
pub struct Record {
    from: Date,
    pieces: Vec<Piece>,
    totals: Season,
}

impl Record {
    /// Runs a scenario. Not interrupted: it takes less than a second.
    ///
    /// # Errors
    /// None in fact; the type is the caller's.
    pub fn new(scenario: &Scenario, candidate: &Candidate) -> Result<Self, Stopped> {
        let count = scenario.season.days as usize * PIECES_A_DAY;
        let mut pieces = Vec::with_capacity(count);
        let mut last = Piece::default();
        let run = scenario.run(candidate.settings());
        let totals = run
            .go::<Cancelled>(&Cancel::new(), |report, seen| {
                let place = (report.row.now.as_millis() / 1_000 / PIECE_S) as usize;
                while pieces.len() < place.min(count) {
                    pieces.push(last);
                }
                last = Piece {
                    slab_c: seen.plant.truth().slab_c,
                    outdoor_c: report
                        .row
                        .readings
                        .outdoor
                        .value
                        .map_or(f64::NAN, |t: Celsius| t.to_fixed().to_num()),
                    circulator: report.outputs.circulator,
                    boiler: report.outputs.boiler_call,
                };
                Ok(())
            })
            .map_err(|_| Stopped::Asked)?;
        pieces.resize(count, last);
        Ok(Self {
            from: scenario.season.from,
            pieces,
            totals,
        })
    }

    /// Noon before the night (noon to noon) that is coldest outdoors, in days from the start.
    fn coldest_night(&self) -> Option<usize> {
        let half = PIECES_A_DAY / 2;
        let nights = (self.pieces.len() / PIECES_A_DAY).checked_sub(1)?;
        let sum = |night: &usize| -> f64 {
            let from = night * PIECES_A_DAY + half;
            let outdoor = self.pieces[from..from + PIECES_A_DAY].iter();
            outdoor.map(|p| p.outdoor_c).filter(|c| c.is_finite()).sum()
        };
        (0..nights).min_by(|a, b| sum(a).total_cmp(&sum(b)))
    }

    fn coldest_slab(&self) -> Option<usize> {
        (0..self.pieces.len())
            .min_by(|a, b| self.pieces[*a].slab_c.total_cmp(&self.pieces[*b].slab_c))
    }

    /// What stood against the cold when the slab was coldest.
    #[must_use]
    pub fn why(&self, winter: &str, boiler: bool) -> Option<Why> {
        let coldest = self.coldest_slab()?;
        let from = coldest.saturating_sub(PIECES_A_DAY);
        let day_before = &self.pieces[from..=coldest];
        let share = |holds: &dyn Fn(&Piece) -> bool| {
            day_before.iter().filter(|p| holds(p)).count() as f64 / day_before.len() as f64
        };
        let outdoor = day_before.iter().map(|p| p.outdoor_c);
        let day = coldest / PIECES_A_DAY;
        let heat = self.totals.days.get(day.saturating_sub(1)..=day)?;
        Some(Why {
            winter: winter.to_owned(),
            slab_c: self.pieces[coldest].slab_c,
            when: at(self.from, coldest),
            outdoor_c: outdoor.sum::<f64>() / day_before.len() as f64,
            boiler,
            called: share(&|p| p.boiler),
            ran: share(&|p| p.circulator),
            boiler_kw: heat.iter().map(|day| day.boiler_kwh).sum::<f64>()
                / (heat.len() as f64 * 24.0),
        })
    }
}

fn at(from: Date, piece: usize) -> DateTime {
    let minutes = piece as i64 * (PIECE_S as i64 / 60);
    let start = from.to_datetime(jiff::civil::Time::midnight());
    start
        .checked_add(jiff::Span::new().minutes(minutes))
        .unwrap_or(start)
}

/// What stood against the cold in the 24 h before the slab was coldest.
#[derive(Clone, Debug, PartialEq)]
pub struct Why {
    /// The winter.
    pub winter: String,
    /// The slab then, °C.
    pub slab_c: f64,
    /// When.
    pub when: DateTime,
    /// Outdoors, mean, °C.
    pub outdoor_c: f64,
    /// Is there a boiler?
    pub boiler: bool,
    /// Share of the time the boiler was called.
    pub called: f64,
    /// Share of the time the circulator ran.
    pub ran: f64,
    /// Heat of the boiler into the water that day and the day before, mean, kW.
    pub boiler_kw: f64,
}

/// A night with the settings before and after.
#[derive(Clone, Debug)]
pub struct Night {
    /// The winter.
    pub winter: String,
    /// Its first moment.
    pub start: DateTime,
    /// Hours since then of each piece.
    pub hours: Vec<f64>,
    /// With the settings started from.
    pub before: Vec<Piece>,
    /// With the settings found.
    pub after: Vec<Piece>,
}

impl Night {
    /// The night that is coldest outdoors, noon to noon, or the two days around the coldest slab (with the settings
    /// found).
    #[must_use]
    pub fn new(winter: String, before: &Record, after: &Record, by_slab: bool) -> Option<Self> {
        let (middle, days) = if by_slab {
            (after.coldest_slab()?, 2)
        } else {
            let noon = after.coldest_night().map(|night| night * PIECES_A_DAY);
            // A single day has no night from noon to noon.
            (noon.map_or(PIECES_A_DAY / 2, |noon| noon + PIECES_A_DAY), 1)
        };
        let length = (days * PIECES_A_DAY).min(after.pieces.len());
        let from = middle
            .saturating_sub(length / 2)
            .min(after.pieces.len() - length);
        let part = |record: &Record| record.pieces[from..from + length].to_vec();
        Some(Self {
            winter,
            start: at(after.from, from),
            hours: (0..length)
                .map(|n| (n as u64 * PIECE_S) as f64 / 3_600.0)
                .collect(),
            before: part(before),
            after: part(after),
        })
    }
}
