//! Thinning loses no peak, ticks are round, and what is drawn is what was given.

use jiff::civil::date;

use super::axis::{Scale, time_ticks};
use super::paths::{path, thinned};
use super::*;
use crate::present::palette::{Hatch, fill};

fn drawn(plot: &Plot) -> String {
    let mut out = Vec::new();
    write(plot, &mut out, 1).expect("memory takes it");
    String::from_utf8(out).expect("text")
}

const LINE: Stroke = stroke(Ink::Black, Dash::Solid, 1.0);

#[test]
fn a_peak_of_one_point_in_a_hundred_thousand_stays() {
    let points: Vec<(f64, Option<f64>)> = (0..100_000)
        .map(|n| {
            let y = match n {
                61_234 => 99.0,
                61_240 => -99.0,
                _ => f64::from(n % 7),
            };
            (f64::from(n) * 0.008, Some(y))
        })
        .collect();
    let thin = thinned(points.clone(), 800.0);
    assert!(thin.len() <= 1_068, "{}", thin.len());
    let ys = || thin.iter().filter_map(|p| p.1);
    assert_eq!(ys().fold(f64::MIN, f64::max), 99.0);
    assert_eq!(ys().fold(f64::MAX, f64::min), -99.0);
    assert!(
        thin.windows(2).all(|pair| pair[0].0 <= pair[1].0),
        "in order"
    );
    // What fits is left as it is.
    assert_eq!(thinned(points[..100].to_vec(), 800.0), points[..100]);
}

#[test]
fn a_gap_breaks_the_curve_and_a_point_alone_is_seen() {
    let points = vec![
        (0.0, Some(1.0)),
        (1.0, Some(2.0)),
        (2.0, None),
        (3.0, Some(4.0)),
        (4.0, None),
    ];
    assert_eq!(path(&points), "M0 1l1 1M3 4h0");
    // Steps are written from where the pen stands, and never add up to another place.
    let steps = vec![
        (0.0, Some(0.04)),
        (0.04, Some(0.06)),
        (0.06, Some(-3.0)),
        (9.0, Some(-3.0)),
        (10.0, Some(-3.0)),
    ];
    assert_eq!(path(&steps), "M0 0l0 .1 .1-3.1 9.9 0");
    let wide: Vec<(f64, Option<f64>)> = (0..1_000)
        .map(|n| {
            (
                f64::from(n) / 10.0,
                (!(400..600).contains(&n)).then_some(1.0),
            )
        })
        .collect();
    let thin = thinned(wide, 100.0);
    assert_eq!(path(&thin).matches('M').count(), 2, "{}", path(&thin));
}

#[test]
fn ticks_are_round_and_within() {
    let scale = Scale::new([-1.3, 12.2], [0.0, 1.0], false);
    let ticks: Vec<String> = scale.ticks(6.0).into_iter().map(|t| t.1).collect();
    assert_eq!(ticks, ["0", "5", "10"]);
    let ticks = Scale::new([0.01, 0.082], [0.0, 1.0], false).ticks(5.0);
    assert_eq!(ticks[0].1, "0.02");
    let ticks = Scale::new([0.05, 300.0], [0.0, 1.0], true).ticks(5.0);
    let texts: Vec<String> = ticks.into_iter().map(|t| t.1).collect();
    assert_eq!(texts, ["0.1", "1", "10", "100"]);
    // Nothing, and one value alone.
    assert!(
        !Scale::new([f64::INFINITY, f64::NEG_INFINITY], [0.0, 1.0], false)
            .ticks(3.0)
            .is_empty()
    );
    assert!(
        Scale::new([3.0, 3.0], [0.0, 1.0], false)
            .at(3.0)
            .is_finite()
    );
}

#[test]
fn times_stand_on_the_clock() {
    let start = date(2025, 2, 4).at(17, 40, 0, 0);
    let day = 86.4e6;
    let texts = |until: f64| -> Vec<String> {
        let ticks = time_ticks(Some(start), 0.0, until, 5.0);
        assert!(ticks.iter().all(|t| (0.0..=until).contains(&t.0)));
        ticks.into_iter().map(|t| t.1).collect()
    };
    assert_eq!(texts(day / 2.0), ["18:00", "21:00", "5 Feb", "03:00"]);
    assert_eq!(
        texts(5.0 * day),
        ["5 Feb", "6 Feb", "7 Feb", "8 Feb", "9 Feb"]
    );
    assert_eq!(texts(120.0 * day), ["Mar", "Apr", "May", "Jun"]);
    let bare: Vec<String> = time_ticks(None, 0.0, day, 5.0)
        .into_iter()
        .map(|t| t.1)
        .collect();
    assert_eq!(bare, ["0", "6", "12", "18", "24"]);
}

#[test]
fn it_is_drawn_for_both_screens_with_one_legend() {
    let plot = Plot::over("flow, L/s", "Head <by> flow").with(
        Panel::new("head, m", 200.0)
            .with(Mark::line("pump & loop", LINE, [(0.0, 4.0), (1.0, 2.0)]))
            .with(Mark::level("limit", TARGET, 3.0))
            .with(Mark::note(Ink::Black, 0.5, 3.0, "here"))
            .with(Mark::Upright {
                text: "light by 21:40".to_owned(),
                stroke: TARGET,
                x: 0.99,
            }),
    );
    let svg = drawn(&plot);
    assert_eq!(svg.matches("viewBox=\"0 0 960 ").count(), 1);
    assert_eq!(svg.matches("viewBox=\"0 0 380 ").count(), 1);
    assert_eq!(svg.matches("</svg>pump &amp; loop</span>").count(), 1);
    for text in ["head, m", "flow, L/s", ">here<", ">light by 21:40<"] {
        assert_eq!(svg.matches(text).count(), 2, "{text} on both");
    }
    // A text near the right edge reaches to the left.
    assert!(svg.contains("text-anchor=\"end\" x=\"9"), "{svg}");
    assert!(svg.contains("Head &lt;by&gt; flow") && !svg.contains("<by>"));
}

#[test]
fn a_low_panel_has_more_than_one_tick() {
    let panel = Panel::new("loop", 130.0).with(Mark::line("", LINE, [(0.0, 109.0), (1.0, 175.0)]));
    let svg = drawn(&Plot::over("", "").with(panel));
    for tick in [">120<", ">140<", ">160<"] {
        assert_eq!(svg.matches(tick).count(), 2, "{tick} on both screens");
    }
}

#[test]
fn few_bars_have_texts_and_many_are_joined() {
    let bars = |count: u32| {
        let bars = (0..count).map(|n| Bar {
            row: 0.0,
            from: f64::from(2 * n),
            to: f64::from(2 * n + 1),
            text: format!("bar {n}"),
        });
        Plot::over("h", "bars").with(
            Panel::of_rows(vec!["on".to_owned()], 20.0).with(Mark::Bars {
                name: String::new(),
                fill: fill(Ink::Green, Hatch::Diagonal),
                thick: 0.8,
                bars: bars.collect(),
            }),
        )
    };
    let few = drawn(&bars(10));
    assert_eq!(few.matches("<title>").count(), 10);
    assert!(few.contains("url(#diagonal)"));
    let many = drawn(&bars(100_000));
    assert_eq!(many.matches("<title>").count(), 0);
    assert!(many.len() < 20_000, "{} bytes", many.len());
}
