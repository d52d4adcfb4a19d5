//! The questions, in the order asked: the house, its floors, the circulator, the boiler, the place.

use super::{Answers, Question, Refusal};
use crate::files::quantity::{self, Dimension, Units};
use crate::files::site::lints::longest_usual_m;
use crate::files::weather::latitude_deg;
use crate::sim::plant::tube::Tube;
use crate::sim::weather::WeatherYear;

/// Glazing by its name and heat loss coefficient, W/m²K, the common values (common practice, no source).
const GLAZING: [(&str, f64); 6] = [
    ("single glass", 6.0),
    ("single film", 6.5),
    ("double film", 4.0),
    ("double glass", 3.0),
    ("twin-wall", 3.4),
    ("triple-wall", 2.5),
];

/// Distance from tube to tube that circuits are proposed for, m: the demonstration site's, and what is nearest to it in inches.
const USUAL_SPACING_M: f64 = 0.25;
/// Widest spacing proposed, m.
const WIDEST_SPACING_M: f64 = 0.3;

macro_rules! plain {
    ($section:literal, $key:literal, $asks:literal, $means:literal) => {
        Question {
            asks: $asks,
            means: |answers| format!(concat!($means, " Usual {}."), answers.usual($section, $key)),
            default: |answers| answers.said($section, $key),
            take: |answers, text| answers.set($section, $key, text),
        }
    };
}

pub(super) static QUESTIONS: [Question; 15] = [
    plain!(
        "house",
        "length",
        "Length of the house",
        "Along the ridge, outside."
    ),
    Question {
        asks: "Width of the house",
        means: |answers| {
            format!(
                "Across the gable, outside. Usual {}.",
                answers.usual("house", "width")
            )
        },
        default: |answers| answers.said("house", "width"),
        take: |answers, text| {
            answers.set("house", "width", text)?;
            store_as_large(answers);
            Ok(())
        },
    },
    plain!("house", "eaves", "Height of the eaves", "Above the slab."),
    Question {
        asks: "Height of the ridge",
        means: |answers| format!("Above the slab. Usual {}.", answers.usual("house", "ridge")),
        default: |answers| {
            let house = &answers.config.plant.house;
            // The demonstration site's roof rises by four ninths of half its width.
            let rise_m = house.width_m * 2.0 / 9.0;
            answers.length_said(house.eaves_m + rise_m)
        },
        take: |answers, text| answers.set("house", "ridge", text),
    },
    Question {
        asks: "Glazing",
        means: |answers| {
            let names: Vec<&str> = GLAZING.iter().map(|(name, _)| *name).collect();
            format!(
                "One of {}, or its heat loss coefficient, usual {}, or R-value.",
                names.join(", "),
                answers.usual("house", "glazing_u_value")
            )
        },
        default: |_| "twin-wall".to_owned(),
        take: glazing,
    },
    Question {
        asks: "Edge of the slab",
        means: |answers| {
            format!(
                "Bare, or the R-value of its insulation {} deep, usual R-5 to R-20.",
                answers.length_said(0.6)
            )
        },
        default: |_| "R-10".to_owned(),
        take: |answers, text| {
            let is_r_alone = answers.units == Units::Us && quantity::plain_number(text).is_some();
            let text = match text.to_lowercase().as_str() {
                "bare" | "none" => "R-0".to_owned(),
                _ if is_r_alone => format!("R-{text}"),
                _ => text.to_owned(),
            };
            answers.set("house", "edge_loss", &text)
        },
    },
    Question {
        asks: "Tube in both floors",
        means: |_| {
            let names: Vec<&str> = Tube::ALL.iter().map(|tube| tube.name).collect();
            format!("By its standard name: {}.", names.join(", "))
        },
        default: |answers| match answers.units {
            Units::Si => "16x2.0".to_owned(),
            Units::Us => "1/2 in".to_owned(),
        },
        take: |answers, text| {
            let text = text.trim();
            let name = Tube::named(text).map_or(text, |tube| tube.name);
            answers.set("slab", "tube", name)
        },
    },
    Question {
        asks: "Circuits in the slab",
        means: |answers| {
            let longest = longest_usual_m(&answers.config.plant.floor.tube);
            let usual = longest.map_or_else(String::new, |longest_m| {
                format!(
                    " Usual up to {} each in such tube.",
                    answers.length_said(longest_m)
                )
            });
            format!(
                "Length of one, or how many and the length of each: {} or 2 x {}.{usual}",
                answers.length_said(80.0),
                answers.length_said(40.0)
            )
        },
        default: proposed_circuits,
        take: circuits,
    },
    Question {
        asks: "Spacing of the tube",
        means: |answers| {
            format!(
                "From tube to tube. Usual {}.",
                answers.usual("slab", "spacing")
            )
        },
        default: proposed_spacing,
        take: |answers, text| {
            answers.set("slab", "spacing", text)?;
            store_floor_alike(answers);
            Ok(())
        },
    },
    plain!(
        "circulator",
        "shutoff_head",
        "Circulator, head with the valve shut",
        "From its data sheet."
    ),
    plain!(
        "circulator",
        "maximum_flow",
        "Circulator, largest flow",
        "Without any resistance, from its data sheet."
    ),
    plain!(
        "circulator",
        "power",
        "Circulator, electricity",
        "From its plate."
    ),
    Question {
        asks: "Backup boiler",
        means: |answers| {
            format!(
                "None, or the heat of a hand-fired one at full fire, usual {}; injection before it if it is kept hot.",
                answers.usual("boiler", "power")
            )
        },
        default: |answers| answers.said("boiler", "power"),
        take: boiler,
    },
    Question {
        asks: "Weather of the place",
        means: |answers| {
            format!(
                "Latitude, design night and twelve monthly means, such as {}; or a weather file (EPW, TMY3); or a log of the outdoor \
                 temperature and its latitude, own.csv, 40 N.",
                match answers.units {
                    Units::Si => "40 N, -22 C, -2 -1 4 9 14 20 23 22 17 10 3 -2",
                    Units::Us => "40 N, -8 F, 28 30 39 48 57 68 73 72 63 50 37 28",
                }
            )
        },
        default: |_| BUILT_IN.to_owned(),
        take: weather,
    },
    Question {
        asks: "Undisturbed earth at the store",
        means: |answers| {
            format!(
                "Over the whole year: the yearly mean of the air or a little more. Usual {}.",
                answers.usual("earth", "mean")
            )
        },
        default: |answers| answers.said("earth", "mean"),
        take: |answers, text| answers.set("earth", "mean", text),
    },
];

/// The word for the weather kept with the program.
const BUILT_IN: &str = "the demo's";

/// The store below the house has its outline.
fn store_as_large(answers: &mut Answers) {
    const ALIKE: &str = "As for a store below the whole house";
    let house = &answers.config.plant.house;
    let (perimeter_m, area_m2) = (
        2.0 * (house.width_m + house.length_m),
        house.width_m * house.length_m,
    );
    let store = &mut answers.config.plant.store;
    store.wall_area_m2 = round_to(perimeter_m * store.wall_height_m, 0.1);
    store.air_volume_m3 = round_to(area_m2 * store.wall_height_m, 1.0);
    answers.follow("store", "wall_area", ALIKE);
    answers.follow("store", "air_volume", ALIKE);
}

/// The store's floor is laid as the slab is, and the pipes between them carry what all circuits carry.
fn store_floor_alike(answers: &mut Answers) {
    const ALIKE: &str = "As in the slab";
    let slab = answers.config.plant.floor.clone();
    let floor = &mut answers.config.plant.store.floor;
    floor.tube = slab.tube;
    floor.circuits = slab.circuits;
    floor.circuit_length_m = slab.circuit_length_m;
    floor.spacing_m = slab.spacing_m;
    for name in ["tube", "circuit_length", "circuits", "spacing"] {
        answers.follow("store_floor", name, ALIKE);
        // As it was said of the slab, to the letter.
        let said = answers
            .said
            .iter()
            .find(|said| (said.section, said.key) == ("slab", name));
        if let Some(value) = said.map(|said| said.value.clone()) {
            answers.note("store_floor", name, value, super::Why::Follows(ALIKE));
        }
    }
    let wanted_m2 = f64::from(slab.circuits) * slab.tube.area_m2();
    let is_inch = slab.tube.name.ends_with("in");
    let tube = Tube::ALL
        .into_iter()
        .filter(|tube| {
            tube.name.ends_with("in") == is_inch && tube.area_m2() >= slab.tube.area_m2()
        })
        .reduce(|best, tube| {
            if best.area_m2() < wanted_m2 && tube.area_m2() > best.area_m2() {
                tube
            } else {
                best
            }
        });
    let tube = if slab.circuits == 1 {
        Some(slab.tube)
    } else {
        tube
    };
    if let Some(tube) = tube {
        let plant = &mut answers.config.plant;
        plant.supply_run.tube = tube;
        plant.return_run.tube = tube;
        for run in ["supply_run", "return_run"] {
            answers.follow(run, "tube", "Wide enough for the circuits");
        }
    }
}

fn glazing(answers: &mut Answers, text: &str) -> Result<(), Refusal> {
    let plain = |text: &str| text.to_lowercase().replace(['-', ' '], "");
    match GLAZING.iter().find(|(name, _)| plain(name) == plain(text)) {
        Some((_, u_w_m2k)) => {
            answers.config.plant.house.glazing_u_w_m2k = *u_w_m2k;
            let value = answers.said("house", "glazing_u_value");
            answers.set("house", "glazing_u_value", &value)
        }
        None => answers
            .set("house", "glazing_u_value", text)
            .map_err(|refusal| {
                let names: Vec<&str> = GLAZING.iter().map(|(name, _)| *name).collect();
                Refusal {
                    expected: format!(
                        "{}, or {}, or an R-value",
                        names.join(", "),
                        refusal.expected
                    ),
                    ..refusal
                }
            }),
    }
}

/// How much tube covers the floor at the usual spacing, in as many circuits as that tube wants.
fn proposed_circuits(answers: &Answers) -> String {
    let plant = &answers.config.plant;
    let total_m = plant.house.floor_area_m2() / usual_spacing_m(answers.units);
    let longest_m = longest_usual_m(&plant.floor.tube).unwrap_or(150.0);
    let circuits = (total_m / longest_m).ceil().clamp(1.0, 50.0);
    let each = match answers.units {
        Units::Si => format!("{} m", (total_m / circuits).floor().max(1.0)),
        Units::Us => {
            let feet = quantity::in_unit(total_m / circuits, Dimension::Length, "ft");
            let step = if feet < 100.0 { 1.0 } else { 10.0 };
            format!("{} ft", ((feet / step).floor() * step).max(4.0))
        }
    };
    if circuits > 1.0 {
        format!("{circuits} x {each}")
    } else {
        each
    }
}

fn usual_spacing_m(units: Units) -> f64 {
    match units {
        Units::Si => USUAL_SPACING_M,
        Units::Us => quantity::parse("10 in", Dimension::Length).unwrap_or(USUAL_SPACING_M),
    }
}

fn circuits(answers: &mut Answers, text: &str) -> Result<(), Refusal> {
    let (count, length) = match text.split_once(['x', '×', 'X', '*']) {
        Some((count, length)) => (count.trim(), length.trim()),
        None => ("1", text),
    };
    let circuits = count.parse().ok().filter(|count| (1..=50).contains(count));
    let Some(circuits) = circuits else {
        return Err(Refusal {
            found: format!("\"{text}\""),
            expected: "the length of one circuit, or a number of circuits from 1 to 50, an x and the length of each".to_owned(),
            advice: format!("write for example 2 x {}", answers.length_said(40.0)),
        });
    };
    answers.set("slab", "circuit_length", length)?;
    answers.config.plant.floor.circuits = circuits;
    answers.shown("slab", "circuits");
    Ok(())
}

/// The spacing at which that tube just covers the floor, but for what nobody lays.
fn proposed_spacing(answers: &Answers) -> String {
    let plant = &answers.config.plant;
    let floor = &plant.floor;
    let tube_m = floor.circuit_length_m * f64::from(floor.circuits);
    let covers_m = (plant.house.floor_area_m2() / tube_m).min(WIDEST_SPACING_M + 0.005);
    // A hair's breadth more, so that a spacing typed in whole steps comes back.
    let steps = |step_m: f64| (covers_m * 1.001 / step_m).floor().max(4.0);
    match answers.units {
        Units::Si => format!("{} m", round_to(steps(0.025) * 0.025, 0.001)),
        Units::Us => format!("{} in", steps(0.0254)),
    }
}

fn boiler(answers: &mut Answers, text: &str) -> Result<(), Refusal> {
    let lower = text.to_lowercase();
    if matches!(lower.as_str(), "none" | "no" | "without") {
        answers.config.plant.boiler = None;
        answers.shown("boiler", "fitted");
        return Ok(());
    }
    let (kind, power) = match lower.strip_prefix("injection") {
        Some(_) => ("injection", text["injection".len()..].trim()),
        None => ("hand-fired", text),
    };
    answers.config.plant.boiler.get_or_insert_default();
    answers.set("boiler", "kind", kind)?;
    answers
        .set("boiler", "power", power)
        .map_err(|refusal| Refusal {
            expected: format!(
                "none, or {}, or injection and such a power",
                refusal.expected
            ),
            ..refusal
        })
}

fn weather(answers: &mut Answers, text: &str) -> Result<(), Refusal> {
    if text == BUILT_IN {
        return Ok(());
    }
    let refuse = |error: &dyn std::fmt::Display| Refusal {
        found: format!("weather that cannot be used ({error})"),
        expected: "a climate, a weather file or a log".to_owned(),
        advice: "correct it, or leave the line empty for the demo's weather".to_owned(),
    };
    let (text, latitude) = match text.rsplit_once(',') {
        Some((file, latitude)) if !crate::files::weather::Climate::is_meant(text) => {
            match latitude_deg(latitude) {
                Some(degrees) => (file.trim(), Some(degrees)),
                None => (text, None),
            }
        }
        _ => (text, None),
    };
    answers.set("place", "weather", text)?;
    if let Some(degrees) = latitude {
        answers.set("place", "latitude", &format!("{degrees} deg"))?;
    }
    let year = answers
        .config
        .own_weather()
        .map_err(|error| refuse(&error))?;
    if let Some(year) = year {
        earth(answers, &year);
    }
    Ok(())
}

/// The earth is as warm as the air on the mean of the year; in the south its coldest day comes half a year later.
fn earth(answers: &mut Answers, year: &WeatherYear) {
    let logged = year
        .hours
        .iter()
        .map(|hour| hour.dry_bulb_c)
        .filter(|air| !air.is_nan());
    let (sum, count) = logged.fold((0.0, 0.0), |(sum, count), air| (sum + air, count + 1.0));
    // A log of part of a year says nothing of the year.
    if count >= 300.0 * 24.0 {
        answers.config.plant.ground.mean_c = round_to(sum / count, 0.5).clamp(1.0, 30.0);
    }
    if year.station.latitude_deg < 0.0 {
        answers.config.plant.ground.coldest_day = 217.0;
        answers.follow("earth", "coldest_day", "South of the equator");
    }
}

impl Answers {
    /// Writes a key down as the site file shows it, as an answer.
    fn shown(&mut self, section: &'static str, name: &'static str) {
        self.follow(section, name, "");
        if let Some(said) = self.said.last_mut() {
            said.why = super::Why::Answered;
        }
    }

    /// A length as a person says it.
    fn length_said(&self, metres: f64) -> String {
        match self.units {
            Units::Si => format!("{} m", round_to(metres, 0.1)),
            Units::Us => {
                let (number, unit) = quantity::convert(metres, Dimension::Length, self.units);
                let number: f64 = format!("{number:.1e}").parse().unwrap_or(number);
                format!("{number} {unit}")
            }
        }
    }
}

/// To a whole number of steps; in tenths and hundredths without a last bit too many.
fn round_to(value: f64, step: f64) -> f64 {
    let steps_per_unit = (1.0 / step).round().max(1.0);
    (value * steps_per_unit).round() / steps_per_unit
}
