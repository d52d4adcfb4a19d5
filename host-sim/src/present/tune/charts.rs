//! The pictures: trade-offs, what matters, the coldest night.

use super::text;
use super::words::{self, Words};
use crate::files::quantity::{Dimension, Units, convert};
use crate::present::palette::{Dash, Hatch, Ink, fill, stroke};
use crate::present::plot::{Bar, Mark, Panel, Plot, Shape, TARGET};
use crate::questions::tune::night::{Night, Piece};
use crate::questions::tune::score::{Aim, Score};
use crate::questions::tune::{Tuned, aim_line};

/// Height of a panel of points, of a row of bars, px.
const POINTS: f64 = 300.0;
const ROW: f64 = 30.0;

fn name(aim: Aim) -> &'static str {
    match aim {
        Aim::Hold => "degree-hours below target",
        _ => aim_line(aim).name,
    }
}

/// An aim, over which time, and its unit.
fn title(words: &Words, aim: Aim, over: &str) -> String {
    let (_, unit) = words.number(aim, 0.0);
    let separator = if unit.is_empty() { "" } else { ", " };
    format!("{}{over}{separator}{unit}", name(aim))
}

const A_WINTER: &str = " a winter";
const IN_WEEKS: &str = " in the coldest weeks";

/// Finalists by two prices.
pub(crate) fn trade_offs(tuned: &Tuned, words: &Words, x: Aim, y: Aim) -> Plot {
    let at = |score: &Score, aim| words.number(aim, score.mean(aim)).0;
    let caption = format!(
        "Whole winters, {} against {}: each point is one set of settings; the numbers are those of the table.",
        name(y),
        name(x)
    );
    let is = |place: usize, sign: &str| text::mark(tuned, place) == sign;
    let on_front = |place: usize| tuned.front.contains(&place);
    let all = 0..tuned.finals.len();
    let groups: [(&str, Vec<usize>, Ink, Shape, f64); 4] = [
        (
            "beaten by another in every aim",
            all.clone()
                .filter(|p| is(*p, "") && !on_front(*p))
                .collect(),
            Ink::Grey,
            Shape::Ring,
            7.0,
        ),
        (
            "beaten by none",
            all.clone().filter(|p| is(*p, "") && on_front(*p)).collect(),
            Ink::Blue,
            Shape::Disc,
            9.0,
        ),
        (
            "started from",
            all.clone().filter(|p| is(*p, "o")).collect(),
            Ink::Black,
            Shape::Square,
            12.0,
        ),
        (
            "found",
            all.filter(|p| is(*p, "*")).collect(),
            Ink::Vermillion,
            Shape::Diamond,
            14.0,
        ),
    ];
    let mut panel = Panel::new(title(words, y, A_WINTER), POINTS);
    for (name, places, ink, shape, size) in groups {
        if places.is_empty() {
            continue;
        }
        let point = |place: &usize| {
            let score = &tuned.finals[*place].score;
            // Those that are beaten are many and crowd: they go without a number.
            let number = if shape == Shape::Ring {
                String::new()
            } else {
                place.to_string()
            };
            (at(score, x), at(score, y), number)
        };
        panel = panel.with(Mark::Dots {
            name: name.to_owned(),
            ink,
            shape,
            size,
            points: places.iter().map(point).collect(),
        });
    }
    Plot::over(title(words, x, A_WINTER), caption).with(panel)
}

/// Everything tried on the coldest weeks.
pub(crate) fn tried(tuned: &Tuned, words: &Words) -> Plot {
    let at = |score: &Score| {
        let number = |aim| words.number(aim, score.mean(aim)).0;
        (number(Aim::Wood), 0.1 + number(Aim::Hold), String::new())
    };
    let caption = format!(
        "All {} candidates in the coldest weeks: degree-hours below target (with 0.1 added, for the scale) against wood; \
         light were tried first, dark last.",
        tuned.screened.len()
    );
    // Those that let the slab go far would leave the others no room: a degree-hour scale by powers of ten.
    let mut panel = Panel::new(format!("{} + 0.1", words.number(Aim::Hold, 0.0).1), POINTS);
    panel.log = true;
    let parts = [
        ("first third", Ink::Sky),
        ("second third", Ink::Blue),
        ("last third", Ink::Black),
    ];
    let length = tuned.screened.len().div_ceil(parts.len()).max(1);
    for ((name, ink), part) in parts.into_iter().zip(tuned.screened.chunks(length)) {
        panel = panel.with(Mark::Dots {
            name: name.to_owned(),
            ink,
            shape: Shape::Disc,
            size: 4.0,
            points: part.iter().map(|j| at(&j.score)).collect(),
        });
    }
    if let Some(start) = tuned.screened.first() {
        panel = panel.with(Mark::Dots {
            name: "started from".to_owned(),
            ink: Ink::Vermillion,
            shape: Shape::Square,
            size: 12.0,
            points: vec![at(&start.score)],
        });
    }
    Plot::over(title(words, Aim::Wood, IN_WEEKS), caption).with(panel)
}

/// What each setting does to an aim when moved to the ends of its range; `None` where nothing changes.
pub(crate) fn sensitivity(tuned: &Tuned, words: &Words, aim: Aim, units: Units) -> Option<Plot> {
    let reference = tuned.in_weeks.unwrap_or_default();
    let caption = format!(
        "What each setting does to {} when it alone is moved from the value found to the ends of its range.",
        name(aim)
    );
    let change = |score: &Score| {
        let (with, _) = words.number(aim, reference.mean(aim));
        words.number(aim, score.mean(aim)).0 - with
    };
    let rows = tuned
        .swept
        .iter()
        .map(|s| s.parameter.key.field().name.to_owned());
    let mut panel = Panel::of_rows(rows.collect(), ROW);
    let groups = [
        ("to a lower value", fill(Ink::Sky, Hatch::None), true),
        (
            "to a higher value",
            fill(Ink::Orange, Hatch::Diagonal),
            false,
        ),
    ];
    let mut is_level = true;
    for (name, fill, lower) in groups {
        let mut bars = Vec::new();
        for (row, swept) in (0..).zip(&tuned.swept) {
            let key = swept.parameter.key;
            let found = swept.parameter.of(tuned.chosen.raw());
            for (at, score) in swept.ends.iter().filter(|(at, _)| (*at < found) == lower) {
                let values = [found, *at].map(|at| words::value(key, at, units));
                let to = change(score);
                is_level &= to.abs() < 1e-3;
                bars.push(Bar {
                    row: f64::from(row) + if lower { -0.19 } else { 0.19 },
                    from: 0.0,
                    to,
                    text: format!(
                        "{}: {} to {}: {to:.2}",
                        key.field().name,
                        values[0],
                        values[1]
                    ),
                });
            }
        }
        panel = panel.with(Mark::Bars {
            name: name.to_owned(),
            fill,
            thick: 0.36,
            bars,
        });
    }
    let title = format!("change of {}", title(words, aim, IN_WEEKS));
    (!is_level).then(|| Plot::over(title, caption).with(panel))
}

/// Slab shown above the coldest of a night, K.
const SLAB_RANGE_K: f64 = 5.5;

/// The coldest night with the settings before and after.
pub(crate) fn night(night: &Night, target_c: f64, units: Units) -> Plot {
    let x: Vec<f64> = night.hours.iter().map(|h| h * 3.6e6).collect();
    let degrees = |c: f64| convert(c, Dimension::Temperature, units).0;
    let unit = Dimension::Temperature.display_unit(units);
    // A sunny noon would flatten what the night is about.
    let coldest = night
        .before
        .iter()
        .chain(&night.after)
        .map(|piece| piece.slab_c)
        .fold(target_c, f64::min);
    let caption = format!(
        "{}: slab where its sensor is (without the sensor's error), outdoor air and relays, with the settings started \
         from and with those found.",
        night.winter
    );
    let line = |name: &str, pieces: &[Piece], of: fn(&Piece) -> f64, ink, dash| {
        let points = x.iter().copied().zip(pieces.iter().map(|p| degrees(of(p))));
        Mark::line(name, stroke(ink, dash, 2.0), points)
    };
    let mut slab = Panel::new(format!("slab, {unit}"), 220.0)
        .with(line(
            "slab, before",
            &night.before,
            |p| p.slab_c,
            Ink::Black,
            Dash::Dotted,
        ))
        .with(line(
            "slab, found",
            &night.after,
            |p| p.slab_c,
            Ink::Orange,
            Dash::Solid,
        ))
        .with(Mark::level(
            format!("target {:.1} {unit}", degrees(target_c)),
            TARGET,
            degrees(target_c),
        ));
    slab.range = Some([degrees(coldest - 0.4), degrees(coldest + SLAB_RANGE_K)]);
    let outdoor = Panel::new(format!("outdoors, {unit}"), 110.0).with(line(
        "outdoors",
        &night.after,
        |p| p.outdoor_c,
        Ink::Sky,
        Dash::Solid,
    ));
    type On = fn(&Piece) -> bool;
    let relays: [(&str, &[Piece], On, Ink); 4] = [
        ("boiler, before", &night.before, |p| p.boiler, Ink::Black),
        (
            "circulator, before",
            &night.before,
            |p| p.circulator,
            Ink::Grey,
        ),
        ("boiler, found", &night.after, |p| p.boiler, Ink::Vermillion),
        (
            "circulator, found",
            &night.after,
            |p| p.circulator,
            Ink::Green,
        ),
    ];
    let names = relays.iter().map(|(name, ..)| (*name).to_owned());
    let mut rows = Panel::of_rows(names.collect(), 22.0);
    for (row, (name, pieces, on, ink)) in (0..).zip(relays) {
        rows = rows.with(Mark::Bars {
            name: String::new(),
            fill: fill(ink, Hatch::None),
            thick: 0.7,
            bars: spans(pieces, on, &x, name, f64::from(row)),
        });
    }
    let from_ms = x.first().copied().unwrap_or(0.0).max(0.0) as u64;
    let until_ms = x.last().copied().unwrap_or(0.0).max(0.0) as u64;
    Plot::over_time(Some(night.start), from_ms, until_ms, caption)
        .with(slab)
        .with(outdoor)
        .with(rows)
}

/// Stretches in which a relay was on.
fn spans(pieces: &[Piece], on: fn(&Piece) -> bool, x: &[f64], name: &str, row: f64) -> Vec<Bar> {
    let step = x.get(1).zip(x.first()).map_or(0.0, |(b, a)| b - a);
    let mut bars: Vec<Bar> = Vec::new();
    for (_, at) in pieces.iter().zip(x).filter(|(piece, _)| on(piece)) {
        match bars.last_mut() {
            Some(last) if last.to >= at - step / 2.0 => last.to = at + step,
            _ => bars.push(Bar {
                row,
                from: *at,
                to: at + step,
                text: String::new(),
            }),
        }
    }
    for bar in &mut bars {
        bar.text = format!("{name}, {:.0} min", (bar.to - bar.from) / 60_000.0);
    }
    bars
}

/// Degree-hours and wood by sensor error, before and found; `None` where there is nothing to see.
pub(crate) fn errors(rows: &[(String, Score, Score)], words: &Words, aim: Aim) -> Option<Plot> {
    let caption = format!("By sensor error: {}, mean a winter.", name(aim));
    let number = |score: &Score| words.number(aim, score.mean(aim)).0;
    type Of = fn(&(String, Score, Score)) -> &Score;
    let groups: [(&str, f64, Of); 2] = [
        ("started from", -0.19, |row| &row.1),
        ("found", 0.19, |row| &row.2),
    ];
    let mut panel = Panel::of_rows(rows.iter().map(|row| row.0.clone()).collect(), ROW);
    let mut is_empty = true;
    for ((name, beside, of), fill) in groups.into_iter().zip([
        fill(Ink::Grey, Hatch::None),
        fill(Ink::Vermillion, Hatch::Diagonal),
    ]) {
        let bars = (0..).zip(rows).map(|(place, row)| {
            let to = number(of(row));
            Bar {
                row: f64::from(place) + beside,
                from: 0.0,
                to,
                text: format!("{}, {name}: {to:.2}", row.0),
            }
        });
        let bars: Vec<Bar> = bars.collect();
        is_empty &= bars.iter().all(|bar| bar.to == 0.0);
        panel = panel.with(Mark::Bars {
            name: name.to_owned(),
            fill,
            thick: 0.36,
            bars,
        });
    }
    (!is_empty).then(|| Plot::over(title(words, aim, A_WINTER), caption).with(panel))
}
