//! The drawing by its numbers: what is 1 m on the floor is 50 mm on paper.

use super::scene::{Shape, scene};
use super::*;
use crate::questions::lay::{Question, lay};
use crate::sim::plant::config::PlantConfig;

const POINTS_MM: f64 = 72.0 / 25.4;

fn laid(plan: &Plan, spacing_m: f64) -> Laid {
    let plant = PlantConfig::default();
    lay(&Question::usual(plan, &plant, spacing_m)).expect("a floor that can be laid")
}

fn shown<'a>(laid: &'a Laid, plan: &'a Plan, units: Units) -> Shown<'a> {
    Shown {
        laid,
        other: None,
        plan,
        tube: "16x2.0",
        house: "a house",
        made: "2026-01-01 12:00",
        site_floor_m2: laid.floor_m2,
        scale: None,
        units,
    }
}

/// Straights of the first page, from and to in points, that are drawn with a line so wide, mm.
fn straights(file: &[u8], width_mm: f64) -> Vec<[f64; 4]> {
    let text = String::from_utf8_lossy(file);
    let first = text.split("endstream").next().unwrap_or_default();
    let mut wide = false;
    let mut from = [0.0; 2];
    let mut found = Vec::new();
    for line in first.lines() {
        let words: Vec<&str> = line.split(' ').collect();
        let number = |at: usize| {
            words
                .get(at)
                .and_then(|word| word.parse::<f64>().ok())
                .unwrap_or(f64::NAN)
        };
        match words.last() {
            Some(&"w") => wide = (number(0) - width_mm * POINTS_MM).abs() < 1e-3,
            Some(&"m") => from = [number(0), number(1)],
            Some(&"l") if wide => found.push([from[0], from[1], number(0), number(1)]),
            _ => {}
        }
    }
    found
}

#[test]
fn the_bar_is_50_mm_at_one_to_20() {
    let plan = Plan::rectangle(3.6, 6.0);
    let laid = laid(&plan, 0.25);
    let shown = shown(&laid, &plan, Units::Si);
    assert_eq!(shown.scale(), 20.0);
    let file = pdf(&shown);
    let bars = straights(&file, 1.0);
    assert_eq!(bars.len(), 1, "{bars:?}");
    let [x0, y0, x1, y1] = bars[0];
    assert!((libm::hypot(x1 - x0, y1 - y0) / POINTS_MM - 50.0).abs() < 0.005);
    // A sheet of A3 on its side.
    let text = String::from_utf8_lossy(&file);
    assert!(text.contains("/MediaBox [0 0 1190.55"), "A3");
    assert!(
        text.contains("/Count 3") || text.contains("/Count 4"),
        "drawing, map, tables"
    );
}

#[test]
fn words_can_be_read_and_marks_are_where_the_tube_is() {
    let plan = Plan::rectangle(3.6, 6.0);
    let laid = laid(&plan, 0.25);
    for units in [Units::Si, Units::Us] {
        let shown = shown(&laid, &plan, units);
        let scene = scene(&shown, shown.scale());
        let mut dots = 0;
        for shape in &scene.shapes {
            match shape {
                Shape::Words(_, size_mm, ..) => assert!(*size_mm >= 2.5),
                Shape::Dot(..) => dots += 1,
                _ => {}
            }
            let inside = |point: &[f64; 2]| {
                (0..2).all(|axis| (scene.low[axis]..=scene.high[axis]).contains(&point[axis]))
            };
            if let Shape::Line(points, _) = shape {
                assert!(points.iter().all(inside), "{shape:?}");
            }
        }
        // Marks, both risers and the sensor.
        assert_eq!(dots, laid.circuits[0].marks.len() + 3);
        assert!(scene.title.contains("1:2"));
    }
}

#[test]
fn a_large_floor_is_tiled_with_an_overlap() {
    let plan = Plan::rectangle(12.0, 20.0);
    let laid = laid(&plan, 0.30);
    let shown = shown(&laid, &plan, Units::Si);
    assert!(shown.turned(shown.scale()).is_none());
    let file = pdf(&shown);
    let text = String::from_utf8_lossy(&file);
    assert!(text.contains("(Sheet A1 of "), "tiles have names");
    let sheets = text.matches("(Sheet ").count();
    // 1000 x 600 mm and what stands round it on sheets of 277 x 190 mm less 10 mm: four by four.
    assert_eq!(sheets, 16);
    assert!(!text.contains("NaN"));
}

#[test]
fn screen_and_program_say_the_same() {
    let plan = Plan::rectangle(3.6, 6.0);
    let laid = laid(&plan, 0.25);
    let shown = shown(&laid, &plan, Units::Si);
    let numbers = json(&shown);
    let words = text(&shown);
    let length = numbers["circuits"][0]["length_m"]
        .as_f64()
        .expect("a length");
    assert!(
        words.contains(&format!("{length:.1} m between first and last run")),
        "{words}"
    );
    let ties = numbers["circuits"][0]["ties"].as_u64().expect("ties");
    assert!(words.contains(&format!("{ties} ties,")), "{words}");
    // A box to tick for each corner, beginning and end.
    let bends = numbers["circuits"][0]["bends"].as_u64().expect("bends") as usize;
    assert_eq!(words.matches("[ ]").count(), bends + 2);
    assert!(svg(&shown).contains("</svg>"));
}
