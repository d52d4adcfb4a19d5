//! The pictures: bargains, what matters, the coldest night.

use plotly::common::{Anchor, DashType, Line, Marker, MarkerSymbol, Mode, PatternShape};
use plotly::layout::{AxisType, BarMode};
use plotly::{Bar as BarTrace, Scatter};

use super::night::{Night, Piece};
use super::score::{Aim, Score};
use super::show;
use super::words::{self, Words};
use super::{Tuned, aim_line};
use crate::quantity::{Dimension, Units, convert};
use crate::report::palette;
use crate::report::plot::{self, Bar, BarFill, Plot, TimeBars};

fn rounded(value: f64) -> f64 {
    (value * 1_000.0).round() / 1_000.0
}

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
pub(super) fn bargains(tuned: &Tuned, words: &Words, x: Aim, y: Aim) -> Plot {
    let at = |score: &Score, aim| rounded(words.number(aim, score.mean(aim)).0);
    let layout = plot::layout()
        .x_axis(plot::axis(&title(words, x, A_WINTER)))
        .y_axis(plot::axis(&title(words, y, A_WINTER)));
    let caption = format!(
        "Whole winters, {} against {}: each point is one set of settings; the numbers are those of the table.",
        name(y),
        name(x)
    );
    let mut chart = Plot::new(caption, 400, layout);
    let is = |place: usize, sign: &str| show::mark(tuned, place) == sign;
    let on_front = |place: usize| tuned.front.contains(&place);
    let all = 0..tuned.finals.len();
    let groups: [(&str, Vec<usize>, &str, MarkerSymbol, usize); 4] = [
        (
            "beaten by another in every aim",
            all.clone()
                .filter(|p| is(*p, "") && !on_front(*p))
                .collect(),
            palette::GREY,
            MarkerSymbol::CircleOpen,
            8,
        ),
        (
            "beaten by none",
            all.clone().filter(|p| is(*p, "") && on_front(*p)).collect(),
            palette::BLUE,
            MarkerSymbol::Circle,
            10,
        ),
        (
            "started from",
            all.clone().filter(|p| is(*p, "o")).collect(),
            palette::BLACK,
            MarkerSymbol::SquareOpen,
            14,
        ),
        (
            "found",
            all.filter(|p| is(*p, "*")).collect(),
            palette::VERMILLION,
            MarkerSymbol::Star,
            16,
        ),
    ];
    for (name, places, colour, symbol, size) in groups {
        if places.is_empty() {
            continue;
        }
        let scores = || places.iter().map(|place| &tuned.finals[*place].score);
        let numbers: Vec<String> = places.iter().map(|place| format!("  {place}")).collect();
        chart.add(
            Scatter::new(
                scores().map(|score| at(score, x)).collect(),
                scores().map(|score| at(score, y)).collect::<Vec<f64>>(),
            )
            .mode(Mode::MarkersText)
            .text_array(numbers)
            .text_position(plotly::common::Position::MiddleRight)
            .marker(Marker::new().color(colour).symbol(symbol).size(size))
            .name(name)
            .hover_template("%{text}: %{x}, %{y}<extra></extra>"),
        );
    }
    chart
}

/// Everything tried on the coldest weeks.
pub(super) fn tried(tuned: &Tuned, words: &Words) -> Plot {
    let at = |score: &Score, aim| rounded(words.number(aim, score.mean(aim)).0);
    // Those that let the slab go far would leave the others no room: a degree-hour scale by powers of ten.
    let layout = plot::layout()
        .x_axis(plot::axis(&title(words, Aim::Wood, IN_WEEKS)))
        .y_axis(
            plot::axis(&format!("{} + 0.1", words.number(Aim::Hold, 0.0).1)).type_(AxisType::Log),
        );
    let caption = format!(
        "All {} candidates in the coldest weeks: degree-hours below target (with 0.1 added, for the scale) against wood; \
         light were tried first, dark last.",
        tuned.screened.len()
    );
    let mut chart = Plot::new(caption, 380, layout);
    let parts = [
        ("first third", palette::SKY),
        ("second third", palette::BLUE),
        ("last third", palette::BLACK),
    ];
    let length = tuned.screened.len().div_ceil(parts.len()).max(1);
    for ((name, colour), part) in parts.into_iter().zip(tuned.screened.chunks(length)) {
        chart.add(
            Scatter::new(
                part.iter().map(|j| at(&j.score, Aim::Wood)).collect(),
                part.iter()
                    .map(|j| 0.1 + at(&j.score, Aim::Hold))
                    .collect::<Vec<f64>>(),
            )
            .mode(Mode::Markers)
            .marker(Marker::new().color(colour).size(5))
            .name(name),
        );
    }
    if let Some(start) = tuned.screened.first() {
        chart.add(
            Scatter::new(
                vec![at(&start.score, Aim::Wood)],
                vec![0.1 + at(&start.score, Aim::Hold)],
            )
            .mode(Mode::Markers)
            .marker(
                Marker::new()
                    .color(palette::VERMILLION)
                    .symbol(MarkerSymbol::SquareOpen)
                    .size(13),
            )
            .name("started from"),
        );
    }
    chart
}

/// What each setting does to an aim when moved to the ends of its range.
pub(super) fn sensitivity(tuned: &Tuned, words: &Words, aim: Aim, units: Units) -> Plot {
    let reference = tuned.in_weeks.unwrap_or_default();
    let layout = plot::layout()
        .bar_mode(BarMode::Group)
        .x_axis(plot::axis(&format!(
            "change of {}",
            title(words, aim, IN_WEEKS)
        )))
        .y_axis(plot::axis("").auto_margin(true));
    let caption = format!(
        "What each setting does to {} when it alone is moved from the value found to the ends of its range.",
        name(aim)
    );
    let rows = tuned.swept.len() as u32;
    let mut chart = Plot::new(caption, 110 + 30 * rows, layout);
    let change = |score: &Score| {
        let (with, _) = words.number(aim, reference.mean(aim));
        rounded(words.number(aim, score.mean(aim)).0 - with)
    };
    let groups = [
        ("to a lower value", palette::SKY, PatternShape::None, true),
        (
            "to a higher value",
            palette::ORANGE,
            PatternShape::RightDiagonalLine,
            false,
        ),
    ];
    for (name, colour, pattern, lower) in groups {
        let (mut lines, mut changes, mut texts) = (Vec::new(), Vec::new(), Vec::new());
        for swept in tuned.swept.iter().rev() {
            let key = swept.parameter.key;
            let found = swept.parameter.of(tuned.chosen.raw());
            for (at, score) in swept.ends.iter().filter(|(at, _)| (*at < found) == lower) {
                let values = [found, *at].map(|at| words::value(key, at, units));
                lines.push(key.field().name.to_owned());
                changes.push(change(score));
                texts.push(format!("{} to {}", values[0], values[1]));
            }
        }
        chart.add(
            BarTrace::new(changes, lines)
                .orientation(plotly::common::Orientation::Horizontal)
                .marker(
                    Marker::new()
                        .color(colour)
                        .pattern(plotly::common::Pattern::new().shape(pattern).size(6.0)),
                )
                .hover_text_array(texts)
                .hover_template("%{y}: %{hovertext}: %{x}<extra></extra>")
                .name(name),
        );
    }
    chart
}

const MS_AN_HOUR: f64 = 3.6e6;
/// Slab shown above the coldest of a night, K.
const SLAB_RANGE_K: f64 = 5.5;

/// The coldest night with the settings before and after.
pub(super) fn night(night: &Night, target_c: f64, units: Units) -> Plot {
    const ROWS: [(&str, f64); 4] = [
        ("circulator, found", 0.0),
        ("boiler, found", 1.0),
        ("circulator, before", 2.0),
        ("boiler, before", 3.0),
    ];
    let start_ms = jiff::tz::Offset::UTC
        .to_timestamp(night.start)
        .map_or(0.0, |t| t.as_millisecond() as f64);
    let x: Vec<f64> = night
        .hours
        .iter()
        .map(|h| start_ms + h * MS_AN_HOUR)
        .collect();
    let degrees = |c: f64| rounded(convert(c, Dimension::Temperature, units).0);
    let unit = Dimension::Temperature.display_unit(units);
    // A sunny noon would flatten what the night is about.
    let coldest = night
        .before
        .iter()
        .chain(&night.after)
        .map(|piece| piece.slab_c)
        .fold(target_c, f64::min);
    let slab_range = vec![degrees(coldest - 0.4), degrees(coldest + SLAB_RANGE_K)];
    let ends = [
        x.first().copied().unwrap_or(start_ms),
        x.last().copied().unwrap_or(start_ms),
    ];
    let layout = plot::layout()
        .bar_mode(BarMode::Overlay)
        .legend(plot::legend().y(-0.13).y_anchor(Anchor::Top))
        .x_axis(
            plot::axis("")
                .type_(AxisType::Date)
                .range(ends.to_vec())
                .anchor("y2"),
        )
        .y_axis(
            plot::axis(&format!("slab, {unit}"))
                .domain(&[0.56, 1.0])
                .range(slab_range),
        )
        .y_axis2(
            plot::axis("")
                .domain(&[0.0, 0.2])
                .range(vec![-0.6, 3.6])
                .fixed_range(true)
                .auto_margin(true)
                .show_grid(false)
                .tick_values(ROWS.iter().map(|row| row.1).collect())
                .tick_text(ROWS.iter().map(|row| row.0.to_owned()).collect()),
        )
        .y_axis3(plot::axis(&format!("outdoor, {unit}")).domain(&[0.24, 0.52]));
    let caption = format!(
        "{}: slab where its sensor is (without the sensor's error), outdoor air and relays, with the settings started \
         from and with those found.",
        night.winter
    );
    let mut chart = Plot::new(caption, 620, layout);
    let mut curve = |pieces: &[Piece],
                     of: fn(&Piece) -> f64,
                     line: (&str, &'static str, DashType),
                     axis: &str| {
        let y: Vec<f64> = pieces.iter().map(|p| degrees(of(p))).collect();
        chart.add(
            Scatter::new(x.clone(), y)
                .mode(Mode::Lines)
                .name(line.0)
                .y_axis(axis)
                .line(Line::new().color(line.1).dash(line.2).width(2.0))
                .hover_template(
                    format!("{} %{{y}} {unit}<br>%{{x}}<extra></extra>", line.0).as_str(),
                ),
        );
    };
    curve(
        &night.before,
        |p| p.slab_c,
        ("slab, before", palette::BLACK, DashType::Dot),
        "y",
    );
    curve(
        &night.after,
        |p| p.slab_c,
        ("slab, found", palette::VERMILLION, DashType::Solid),
        "y",
    );
    curve(
        &night.after,
        |p| p.outdoor_c,
        ("outdoor", palette::SKY, DashType::Solid),
        "y3",
    );
    let target = Line::new()
        .color(palette::BLACK)
        .dash(DashType::Dash)
        .width(1.0);
    chart.add(plot::level("target", ends, degrees(target_c), target));
    type On = fn(&Piece) -> bool;
    type Row<'a> = (&'a str, f64, &'a [Piece], On, &'static str);
    let relays: [Row<'_>; 4] = [
        (
            ROWS[0].0,
            0.0,
            &night.after,
            |p| p.circulator,
            palette::GREEN,
        ),
        (
            ROWS[1].0,
            1.0,
            &night.after,
            |p| p.boiler,
            palette::VERMILLION,
        ),
        (
            ROWS[2].0,
            2.0,
            &night.before,
            |p| p.circulator,
            palette::GREY,
        ),
        (ROWS[3].0, 3.0, &night.before, |p| p.boiler, palette::BLACK),
    ];
    for (name, row, pieces, on, colour) in relays {
        let fill = BarFill {
            colour: colour.into(),
            pattern: PatternShape::None,
        };
        chart.add(TimeBars::new(
            name,
            row,
            &fill,
            spans(pieces, on, &x, name),
            false,
        ));
    }
    chart
}

/// Stretches in which a relay was on.
fn spans(pieces: &[Piece], on: fn(&Piece) -> bool, x: &[f64], name: &str) -> Vec<Bar> {
    let step = x.get(1).zip(x.first()).map_or(0.0, |(b, a)| b - a);
    let mut bars: Vec<Bar> = Vec::new();
    for (_, at) in pieces.iter().zip(x).filter(|(piece, _)| on(piece)) {
        match bars.last_mut() {
            Some(last) if last.base + last.length >= at - step / 2.0 => last.length += step,
            _ => bars.push(Bar {
                base: *at,
                length: step,
                text: name.to_owned(),
            }),
        }
    }
    for bar in &mut bars {
        bar.text = format!("{name}, {:.0} min", bar.length / 60_000.0);
    }
    bars
}

/// Degree-hours and wood by sensor error, before and found.
pub(super) fn errors(rows: &[(String, Score, Score)], words: &Words, aim: Aim) -> Plot {
    let layout = plot::layout()
        .bar_mode(BarMode::Group)
        .y_axis(plot::axis(&title(words, aim, A_WINTER)));
    let caption = format!("By sensor error: {}, mean a winter.", name(aim));
    let names: Vec<String> = rows.iter().map(|row| row.0.clone()).collect();
    let number = |score: &Score| rounded(words.number(aim, score.mean(aim)).0);
    let bars = |of: fn(&(String, Score, Score)) -> &Score| -> Vec<f64> {
        rows.iter().map(|row| number(of(row))).collect()
    };
    let pattern = |shape| plotly::common::Pattern::new().shape(shape).size(6.0);
    Plot::new(caption, 300, layout)
        .with(
            BarTrace::new(names.clone(), bars(|row| &row.1))
                .marker(
                    Marker::new()
                        .color(palette::GREY)
                        .pattern(pattern(PatternShape::None)),
                )
                .name("started from"),
        )
        .with(
            BarTrace::new(names, bars(|row| &row.2))
                .marker(
                    Marker::new()
                        .color(palette::VERMILLION)
                        .pattern(pattern(PatternShape::RightDiagonalLine)),
                )
                .name("found"),
        )
}
