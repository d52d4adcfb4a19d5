//! The night many times over: forecast and start with their errors drawn, the store alone.
//!
//! Every member is the whole plant, step by step, under the plain rule of [`super::night`]; a dozen, spread evenly over the members from
//! the warmest to the coldest outcome, run under the controller itself as well. Their mean difference, by the time of night, is
//! added to all: so the rule only carries the differences between members, and what the controller really does carries the
//! level. Members come in pairs with opposite draws, which keeps their mean at the best guess.

use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::SeedableRng as _;
use rayon::prelude::*;

use super::forecast::Outlook;
use super::night::{Course, House, Rule, SAMPLE_S, first_below};
use super::start::{Start, StartDraw};
use super::weather::{Doubt, MemberWeather, WeatherDraw};
use crate::sim::plant::Plant;
use crate::sim::plant::sensors::normal;

/// How many members, and how many of them under the controller.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Size {
    /// Members in all.
    pub members: usize,
    /// Members under the controller.
    pub controlled: usize,
}

impl Default for Size {
    fn default() -> Self {
        Size {
            members: 200,
            controlled: 12,
        }
    }
}

/// All random numbers of one member.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct Draw {
    pub(super) weather: WeatherDraw,
    pub(super) start: StartDraw,
}

/// The draws of an ensemble; an even number, in opposite pairs.
pub(super) fn draws(members: usize, hours: usize, seed: u64) -> Vec<Draw> {
    (0..members)
        .map(|member| {
            let mut random = ChaCha8Rng::seed_from_u64(seed);
            random.set_stream(1_000 + member as u64 / 2);
            let sign = if member % 2 == 0 { 1.0 } else { -1.0 };
            let mut next = || sign * normal(&mut random);
            Draw {
                start: StartDraw {
                    slab: next(),
                    beside: next(),
                    store: next(),
                    floor: next(),
                    drawn: next(),
                },
                weather: WeatherDraw {
                    low: next(),
                    high: next(),
                    cover: next(),
                    dew: next(),
                    course: (0..hours).map(|_| next()).collect(),
                },
            }
        })
        .collect()
}

/// A range: one in ten lies below the first, half below the second, nine in ten below the third. Times may be infinite: not
/// before the end.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Range {
    /// One in ten lies below.
    pub low: f64,
    /// Half lie below.
    pub middle: f64,
    /// Nine in ten lie below.
    pub high: f64,
}

impl Range {
    /// Of some values; NaN for none.
    #[must_use]
    pub fn of(values: impl IntoIterator<Item = f64>) -> Range {
        let mut sorted: Vec<f64> = values.into_iter().collect();
        sorted.sort_by(f64::total_cmp);
        let quantile = |share: f64| {
            let place = share * (sorted.len().max(1) - 1) as f64;
            let (below, above) = (place.floor() as usize, place.ceil() as usize);
            match (sorted.get(below), sorted.get(above)) {
                (Some(&a), Some(&b)) if a == b => a,
                (Some(&a), Some(&b)) if b.is_finite() => a + (b - a) * (place - place.floor()),
                (Some(_), Some(&b)) => b,
                _ => f64::NAN,
            }
        };
        Range {
            low: quantile(0.1),
            middle: quantile(0.5),
            high: quantile(0.9),
        }
    }
}

/// The store alone, through the night.
#[derive(Clone, Debug, PartialEq)]
pub struct StoreAlone {
    /// Members.
    pub members: usize,
    /// Members under the controller.
    pub controlled: usize,
    /// Members whose slab stays at or above the target.
    pub holding: usize,
    /// Members whose slab stays at or above 0 °C.
    pub above_zero: usize,
    /// Coldest slab of the night, °C.
    pub coldest_c: Range,
    /// When the slab falls below the target, s of the axis.
    pub below_target_s: Range,
    /// When it falls below 0 °C, s of the axis.
    pub below_zero_s: Range,
    /// The slab by time, one entry every ten minutes from now on.
    pub fan_c: Vec<Range>,
    /// Outdoor air by time, as the slab.
    pub outdoor_c: Vec<Range>,
    /// Coldest outdoor air, °C.
    pub outdoor_low_c: Range,
    /// Coldest air of the house, °C.
    pub air_low_c: Range,
    /// Time the air of the house is below 0 °C, h.
    pub air_below_zero_h: Range,
    /// Greatest size of the correction from rule to controller, K.
    pub correction_k: f64,
    /// Scatter of single members about that correction at the end, K.
    pub scatter_k: f64,
}

/// One member after the night under the rule.
struct Member {
    slab_c: Vec<f64>,
    outdoor_c: Vec<f64>,
    air_c: Vec<f64>,
}

/// The members, for those who ask on.
pub(super) struct Ensemble<'a> {
    pub(super) outlook: &'a Outlook,
    pub(super) start: &'a Start,
    draws: Vec<Draw>,
    doubt: Doubt,
    /// Members under the controller, from the coldest to the warmest outcome.
    pub(super) controlled: Vec<usize>,
}

impl<'a> Ensemble<'a> {
    /// Runs everything.
    pub(super) fn run(
        outlook: &'a Outlook,
        start: &'a Start,
        doubt: Doubt,
        target_c: f64,
        size: Size,
        seed: u64,
    ) -> (Ensemble<'a>, StoreAlone) {
        let hours = outlook.rows_ahead().count();
        let mut ensemble = Ensemble {
            outlook,
            start,
            draws: draws(size.members.max(2), hours, seed),
            doubt,
            controlled: Vec::new(),
        };
        let mut members: Vec<Member> = (0..ensemble.draws.len())
            .into_par_iter()
            .map(|member| ensemble.under_rule(member))
            .collect();
        let mut order: Vec<usize> = (0..members.len()).collect();
        let coldest = |m: &Member| m.slab_c.iter().copied().fold(f64::INFINITY, f64::min);
        order.sort_by(|&a, &b| coldest(&members[a]).total_cmp(&coldest(&members[b])));
        let count = size.controlled.clamp(1, order.len());
        ensemble.controlled = (0..count)
            .map(|k| order[(2 * k + 1) * order.len() / (2 * count)])
            .collect();

        let controlled: Vec<Course> = ensemble
            .controlled
            .par_iter()
            .map(|&member| ensemble.controlled_alone(member))
            .collect();
        let differences: Vec<Vec<f64>> = ensemble
            .controlled
            .iter()
            .zip(&controlled)
            .map(|(&member, course)| {
                let rule = &members[member].slab_c;
                course.slab_c.iter().zip(rule).map(|(c, r)| c - r).collect()
            })
            .collect();
        let correction: Vec<f64> = (0..members[0].slab_c.len())
            .map(|k| differences.iter().filter_map(|d| d.get(k)).sum::<f64>() / count as f64)
            .collect();
        let at_end = correction.len() - 1;
        let scatter_k = (differences
            .iter()
            .map(|d| d[at_end] - correction[at_end])
            .map(|k| k * k)
            .sum::<f64>()
            / count as f64)
            .sqrt();
        for member in &mut members {
            for (slab, by) in member.slab_c.iter_mut().zip(&correction) {
                *slab += by;
            }
        }
        let alone = summarise(
            &members,
            outlook.axis.now_s,
            target_c,
            count,
            &correction,
            scatter_k,
        );
        (ensemble, alone)
    }

    /// A member's weather.
    pub(super) fn weather(&self, member: usize) -> MemberWeather<'a> {
        MemberWeather::drawn(self.outlook, &self.draws[member].weather, self.doubt)
    }

    /// A member's plant as the night begins.
    fn plant(&self, member: usize) -> Plant {
        let mut plant = self.start.house.plant().clone();
        self.start.apply(&mut plant, &self.draws[member].start);
        plant
    }

    /// A member's house, controller included, as the night begins.
    pub(super) fn house(&self, member: usize) -> House {
        let mut house = self.start.house.clone();
        self.start
            .apply(house.plant_mut(), &self.draws[member].start);
        house
    }

    fn under_rule(&self, member: usize) -> Member {
        let weather = self.weather(member);
        let mut plant = self.plant(member);
        let mut rule: Rule = self.start.rule.clone();
        let axis = &self.outlook.axis;
        let mut slab_c = vec![plant.truth().slab_c];
        let mut outdoor_c = vec![weather.at(axis.now_s).air_c];
        let mut air_c = vec![plant.truth().air_c];
        let at = |second: u64| weather.at(second);
        rule.run(
            &mut plant,
            axis.now_s,
            axis.until_s,
            &at,
            |second, plant| {
                slab_c.push(plant.truth().slab_c);
                outdoor_c.push(weather.at(second).air_c);
                air_c.push(plant.truth().air_c);
            },
        );
        Member {
            slab_c,
            outdoor_c,
            air_c,
        }
    }

    /// A member under the controller without a boiler.
    fn controlled_alone(&self, member: usize) -> Course {
        let weather = self.weather(member);
        let mut house = self.house(member);
        let mut course = Course {
            slab_c: vec![house.plant().truth().slab_c],
            first_call_s: None,
        };
        let at = |second: u64| weather.at(second);
        house.run(self.outlook.axis.until_s, &at, None, &mut course);
        course
    }
}

fn summarise(
    members: &[Member],
    now_s: u64,
    target_c: f64,
    controlled: usize,
    correction: &[f64],
    scatter_k: f64,
) -> StoreAlone {
    let below = |limit_c: f64| {
        Range::of(members.iter().map(|member| {
            first_below(&member.slab_c, limit_c).map_or(f64::INFINITY, |s| now_s as f64 + s)
        }))
    };
    let stays = |limit_c: f64| {
        members
            .iter()
            .filter(|member| first_below(&member.slab_c, limit_c).is_none())
            .count()
    };
    let by_time = |of: &dyn Fn(&Member) -> &[f64]| -> Vec<Range> {
        (0..correction.len())
            .map(|k| {
                Range::of(
                    members
                        .iter()
                        .filter_map(|member| of(member).get(k).copied()),
                )
            })
            .collect()
    };
    let least = |of: &dyn Fn(&Member) -> &[f64]| {
        Range::of(
            members
                .iter()
                .map(|m| of(m).iter().copied().fold(f64::INFINITY, f64::min)),
        )
    };
    StoreAlone {
        members: members.len(),
        controlled,
        holding: stays(target_c),
        above_zero: stays(0.0),
        coldest_c: least(&|m| &m.slab_c),
        below_target_s: below(target_c),
        below_zero_s: below(0.0),
        fan_c: by_time(&|m| &m.slab_c),
        outdoor_c: by_time(&|m| &m.outdoor_c),
        outdoor_low_c: least(&|m| &m.outdoor_c),
        air_low_c: least(&|m| &m.air_c),
        air_below_zero_h: Range::of(members.iter().map(|member| {
            let frost = member.air_c.iter().skip(1).filter(|c| **c < 0.0).count();
            frost as f64 * SAMPLE_S as f64 / 3_600.0
        })),
        correction_k: correction
            .iter()
            .fold(0.0, |most: f64, k| most.max(k.abs())),
        scatter_k,
    }
}

impl StoreAlone {
    /// Seconds of the axis of the fan's entries.
    pub fn times_s(&self, now_s: u64) -> impl Iterator<Item = u64> {
        (0..self.fan_c.len() as u64).map(move |k| now_s + k * SAMPLE_S)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ranges_are_quantiles_and_know_of_never() {
        let range = Range::of((0..=10).map(f64::from));
        assert_eq!((range.low, range.middle, range.high), (1.0, 5.0, 9.0));
        let some = Range::of([3.0, f64::INFINITY, f64::INFINITY, 1.0, 2.0]);
        assert_eq!((some.middle, some.high), (3.0, f64::INFINITY));
        assert!(Range::of([]).middle.is_nan());
    }

    #[test]
    fn draws_come_in_opposite_pairs() {
        let draws = draws(4, 3, 9);
        assert_eq!(draws[0].start.slab, -draws[1].start.slab);
        assert_eq!(draws[2].weather.course[2], -draws[3].weather.course[2]);
        assert_ne!(draws[0].start.slab, draws[2].start.slab);
    }
}
