//! Values with units: published factors, spellings, refusals, showing.

use proptest::prelude::*;

use super::*;

const DIMENSIONS: [Dimension; 25] = [
    Temperature,
    TemperatureDifference,
    TemperatureRate,
    Duration,
    Length,
    Area,
    Volume,
    FlowRate,
    Power,
    Energy,
    Mass,
    Pressure,
    Head,
    HeatLossCoefficient,
    HeatLoss,
    LinearLoss,
    Conductivity,
    ThermalResistance,
    HeatCapacityVolumetric,
    SpecificHeat,
    Irradiance,
    Angle,
    AirChange,
    Fraction,
    RatePerKelvin,
];

#[track_caller]
fn value(text: &str, dimension: Dimension) -> f64 {
    parse(text, dimension).unwrap_or_else(|error| panic!("{error}"))
}

#[track_caller]
fn fault(text: &str, dimension: Dimension) -> QuantityFault {
    parse(text, dimension).expect_err("no value").fault
}

#[test]
fn factors_are_the_published_ones() {
    // NIST SP 811 (2008), appendix B.8, printed to seven digits (from memory).
    for (text, dimension, published) in [
        ("1 in", Length, 2.54e-2),
        ("1 ft", Length, 3.048e-1),
        ("1 ft²", Area, 9.290304e-2),
        ("1 ft³", Volume, 2.831685e-2),
        ("1 gal", Volume, 3.785412e-3),
        // 6.309020E−05 m³/s.
        ("1 gpm", FlowRate, 6.309020e-2),
        ("1 lb", Mass, 4.535924e-1),
        ("1 psi", Pressure, 6.894757e3),
        ("1 bar", Pressure, 1.0e5),
        // 1.055056E+03 J.
        ("1 Btu", Energy, 1.055056e3 / 3.6e6),
        ("1 Btu/h", Power, 2.930711e-1),
        ("1 Btu/(h·ft²·°F)", HeatLossCoefficient, 5.678263),
        ("1 Btu/(h·ft·°F)", Conductivity, 1.730735),
        ("1 Btu·in/(h·ft²·°F)", Conductivity, 1.442279e-1),
        ("1 °F·h·ft²/Btu", ThermalResistance, 1.761102e-1),
        ("1 Btu/(lb·°F)", SpecificHeat, 4.1868e3),
        ("1 Btu/(ft²·h)", Irradiance, 3.154591),
        ("1 °F", TemperatureDifference, 5.555556e-1),
        ("1 deg", Angle, 1.0),
        ("1 d", Duration, 8.64e4),
    ] {
        let found = value(text, dimension);
        assert!(
            (found / published - 1.0).abs() < 1.0e-6,
            "{text}: {found} for {published}"
        );
    }
    // From these by multiplication: 1.055056E+03 × 1.8 / 2.831685E−02, and 1.8 × 2.930711E−01.
    assert!((value("1 Btu/ft³°F", HeatCapacityVolumetric) - 67_066.1).abs() < 0.1);
    assert!((value("1 Btu/h·°F", HeatLoss) - 0.527_528).abs() < 1.0e-6);
}

#[test]
fn points_of_the_temperature_scales() {
    assert_eq!(value("32 °F", Temperature), 0.0);
    assert_eq!(value("212 F", Temperature), 100.0);
    assert_eq!(value("-40 °F", Temperature), -40.0);
    assert_eq!(value("39 °F", Temperature), 35.0 / 9.0);
    assert_eq!(value("4.0 °C", Temperature), 4.0);
    assert_eq!(value("\u{2212}4 C", Temperature), -4.0);
    assert_eq!(value("4.5 °F", TemperatureDifference), 2.5);
    assert_eq!(value("2.5 °C", TemperatureDifference), 2.5);
    // A point in kelvin is far more often a difference in the wrong place.
    assert_eq!(
        fault("2.5 K", Temperature),
        QuantityFault::OtherDimension(TemperatureDifference)
    );
}

#[test]
fn values_as_people_write_them() {
    for (text, dimension, expected) in [
        ("10 min", Duration, 600.0),
        ("2 h", Duration, 7200.0),
        ("7 d", Duration, 604_800.0),
        ("0.06 L/s", FlowRate, 0.06),
        ("6 L/min", FlowRate, 0.1),
        ("0.9 m³/h", FlowRate, 0.25),
        ("86 m", Length, 86.0),
        ("35mm", Length, 0.035),
        ("280 ft", Length, 85.344),
        ("45 W", Power, 45.0),
        ("12 kW", Power, 12_000.0),
        ("3.6 MJ", Energy, 1.0),
        ("1e2 W", Power, 100.0),
        ("+1.5E-1 kW", Power, 150.0),
        (" .5 bar ", Pressure, 50_000.0),
        ("4.5 m", Head, 4.5),
        ("0.05 K/h", TemperatureRate, 0.05),
        ("0.10 K/K", RatePerKelvin, 0.1),
        ("0.75 1/h", AirChange, 0.75),
        ("0.75 /h", AirChange, 0.75),
        ("35 %", Fraction, 0.35),
        ("35%", Fraction, 0.35),
        ("0.35", Fraction, 0.35),
        ("30°", Angle, 30.0),
        ("2.1 MJ/(m³·K)", HeatCapacityVolumetric, 2.1e6),
        ("4.19 kJ/kgK", SpecificHeat, 4190.0),
        ("1.5 m²·K/W", ThermalResistance, 1.5),
        ("0.93 W/m·K", LinearLoss, 0.93),
    ] {
        let found = value(text, dimension);
        assert!(
            (found - expected).abs() <= expected * f64::EPSILON,
            "{text}: {found}"
        );
    }
    for unit in [
        "W/m2K",
        "W/m²K",
        "W/(m²·K)",
        "W/(m2 K)",
        "W/m²/K",
        "W/m^2*K",
        "W/m²°C",
        "W/m²\u{a0}K",
        "W / (m² K)",
    ] {
        assert_eq!(
            value(&format!("3.4 {unit}"), HeatLossCoefficient),
            3.4,
            "{unit}"
        );
    }
    for unit in [
        "Btu/hft2F",
        "BTU/(hr·ft²·°F)",
        "Btu/h-ft2-F",
        "Btu/h/ft²/°F",
    ] {
        assert!(
            (value(&format!("0.6 {unit}"), HeatLossCoefficient) - 3.406_958).abs() < 1.0e-6,
            "{unit}"
        );
    }
}

#[test]
fn what_is_no_value_is_told_apart() {
    assert_eq!(fault("", Length), QuantityFault::NoNumber);
    assert_eq!(fault("m", Length), QuantityFault::NoNumber);
    assert_eq!(fault("NaN m", Length), QuantityFault::NoNumber);
    assert_eq!(fault("inf m", Length), QuantityFault::NoNumber);
    assert_eq!(fault("- 3 m", Length), QuantityFault::NoNumber);
    assert_eq!(fault(".", Fraction), QuantityFault::NoNumber);
    assert_eq!(fault("3,5 m", Length), QuantityFault::DecimalComma);
    assert_eq!(fault("86", Length), QuantityFault::NoUnit);
    assert_eq!(
        fault("86 meters", Length),
        QuantityFault::UnknownUnit("meters".to_owned())
    );
    assert_eq!(fault("86 m m", Area), QuantityFault::OtherDimension(Length));
    assert_eq!(
        fault("1.2.3 m", Length),
        QuantityFault::UnknownUnit(".3 m".to_owned())
    );
    assert_eq!(
        fault("1 w", Power),
        QuantityFault::UnknownUnit("w".to_owned())
    );
    assert_eq!(fault("86 L", Length), QuantityFault::OtherDimension(Volume));
    assert_eq!(fault("1e999 m", Length), QuantityFault::NotFinite);
    assert_eq!(fault("1e308 km", Length), QuantityFault::NotFinite);
}

#[test]
fn messages_say_what_to_write() {
    let message = |text, dimension| parse(text, dimension).expect_err("no value").to_string();
    assert_eq!(
        message("4.0", Temperature),
        "found \"4.0\", a number without a unit; expected a temperature with its unit, such as \"4.0 °C\" or \"39 °F\""
    );
    assert_eq!(
        message("86 kg", Length),
        "found \"86 kg\", a mass; expected a length with its unit, such as \"86 m\", \"16 mm\" or \"280 ft\""
    );
    assert_eq!(
        message("2,5 K", TemperatureDifference),
        "found \"2,5 K\", with a comma in the number; write a decimal point; expected a temperature difference with its unit, such as \"2.5 K\" or \"4.5 °F\""
    );
    // The examples are examples: every one can be read.
    for dimension in DIMENSIONS {
        let examples = dimension
            .description()
            .example
            .split('"')
            .skip(1)
            .step_by(2);
        let read: Vec<f64> = examples.map(|example| value(example, dimension)).collect();
        assert!(!read.is_empty(), "{dimension:?}");
    }
}

#[test]
fn units_of_a_dimension_have_one_meaning() {
    for (index, unit) in UNITS.iter().enumerate() {
        for name in unit.names {
            assert_eq!(plain_unit(name), *name);
            let others = UNITS[index + 1..]
                .iter()
                .filter(|other| other.dimension == unit.dimension);
            assert!(
                others.into_iter().all(|other| !other.names.contains(name)),
                "{name}"
            );
        }
    }
}

#[test]
fn base_units_are_units_with_a_factor_of_one() {
    for dimension in DIMENSIONS {
        assert_eq!(
            value(&format!("7.25 {}", dimension.base_unit()), dimension),
            7.25,
            "{dimension:?}"
        );
    }
}

#[test]
fn values_are_shown_rounded_with_their_unit() {
    for (value, dimension, si, us) in [
        (4.0, Temperature, "4 °C", "39.2 °F"),
        (-0.001, Temperature, "0 °C", "32 °F"),
        (2.5, TemperatureDifference, "2.5 K", "4.5 °F"),
        (86.0, Length, "86 m", "282.152 ft"),
        (0.06, FlowRate, "0.06 L/s", "0.951 gpm"),
        (12_000.0, Power, "12000 W", "40946 Btu/h"),
        (0.35, Fraction, "35 %", "35 %"),
        (
            2.1e6,
            HeatCapacityVolumetric,
            "2.1 MJ/m³K",
            "31.312 Btu/ft³·°F",
        ),
        (45.0, Duration, "45 s", "45 s"),
        (600.0, Duration, "10 min", "10 min"),
        (5400.0, Duration, "1.5 h", "1.5 h"),
        (604_800.0, Duration, "7 d", "7 d"),
    ] {
        assert_eq!(format(value, dimension, Units::Si), si);
        assert_eq!(format(value, dimension, Units::Us), us);
    }
    assert_eq!(convert(100.0, Temperature, Units::Us), (212.0, "°F"));
    assert_eq!(("si".parse(), "us".parse()), (Ok(Units::Si), Ok(Units::Us)));
    assert!(
        "SI units"
            .parse::<Units>()
            .expect_err("no units")
            .to_string()
            .contains("si or us")
    );
}

proptest! {
    #[test]
    fn what_is_shown_can_be_read(value in -1.0e4..1.0e4_f64, index in 0..DIMENSIONS.len(), us in any::<bool>()) {
        let dimension = DIMENSIONS[index];
        let units = if us { Units::Us } else { Units::Si };
        let read = parse(&format(value, dimension, units), dimension).expect("readable");
        // Half of the last shown decimal, in the base unit.
        let step = if dimension == Duration { 864.0 } else {
            let Shown { unit, decimals } = dimension.shown(units);
            let scale = |number: f64| parse(&format!("{number} {unit}"), dimension).expect("shown unit");
            (scale(1.0) - scale(0.0)).abs() * 0.1_f64.powi(decimals as i32)
        };
        prop_assert!((read - value).abs() <= 0.5 * step * (1.0 + 1.0e-9) + 1.0e-9, "{value} {read}");
    }

    #[test]
    fn any_text_is_a_value_or_refused(text in "\\PC{0,20}|[-+0-9.eE]{0,8} ?[a-zA-Z/°²³·%]{0,6}", index in 0..DIMENSIONS.len()) {
        match parse(&text, DIMENSIONS[index]) {
            Ok(value) => prop_assert!(value.is_finite()),
            Err(error) => prop_assert!(error.to_string().contains("expected")),
        }
    }
}

#[test]
fn feet_and_inches_as_people_write_them() {
    let metres = |text| parse(text, Dimension::Length).expect(text);
    for (text, inches) in [
        ("30' 6\"", 366.0),
        ("30'6\"", 366.0),
        ("30 ft 6 in", 366.0),
        ("30 feet 6.5 inches", 366.5),
        ("30'", 360.0),
        ("30 feet", 360.0),
        ("6\"", 6.0),
        ("6 inches", 6.0),
    ] {
        assert!((metres(text) - inches * 0.0254).abs() < 1e-12, "{text}");
    }
    for text in ["30' 13\"", "30' 6", "30' 6 m", "'", "\"", "6' 6'"] {
        assert!(parse(text, Dimension::Length).is_err(), "{text}");
    }
    // 100 MBH are 100 000 Btu/h, 29.307 kW.
    let watts = parse("100 MBH", Dimension::Power).expect("a power");
    assert!((watts - 29_307.1).abs() < 0.1, "{watts}");
}

/// Insulation is sold by its R-value: h·ft²·°F/Btu in the United States, m²·K/W as RSI elsewhere; R-10 is RSI-1.761 (a retail
/// table's rounding of the exact factor).
#[test]
fn r_values_are_resistances_and_their_inverse_a_heat_loss_coefficient() {
    for text in ["R-10", "R10", "r 10", "RSI-1.7611"] {
        assert!(
            (value(text, ThermalResistance) - 1.7611).abs() < 1e-4,
            "{text}"
        );
        assert!(
            (value(text, HeatLossCoefficient) - 1.0 / 1.7611).abs() < 1e-4,
            "{text}"
        );
    }
    assert!(
        (value("R-1", HeatLossCoefficient) - value("1 Btu/h·ft²·°F", HeatLossCoefficient)).abs()
            < 1e-9
    );
    assert_eq!(fault("R-0", HeatLossCoefficient), QuantityFault::NotFinite);
    assert_eq!(fault("R-ten", HeatLossCoefficient), QuantityFault::NoNumber);
    assert_eq!(fault("R-10", Length), QuantityFault::NoNumber);
}

#[test]
fn words_of_the_trade_are_units_too() {
    for (text, same, dimension) in [
        ("1 cord", "128 ft³", Volume),
        ("2.5 gallons", "2.5 gal", Volume),
        ("100 MBH", "100 kBtu/h", Power),
        ("87 watts", "87 W", Power),
        ("6 pounds", "6 lb", Mass),
        ("-8 f", "-8 °F", Temperature),
    ] {
        assert_eq!(value(text, dimension), value(same, dimension), "{text}");
    }
}

#[test]
fn times_of_day_are_read_as_people_write_them() {
    for (text, time) in [
        ("5 pm", Some((17, 0))),
        ("5:30 PM", Some((17, 30))),
        ("12 am", Some((0, 0))),
        ("noon", Some((12, 0))),
        ("18:00", Some((18, 0))),
        ("13 pm", None),
        ("soon", None),
    ] {
        let read = time_of_day(text).map(|time| (time.hour(), time.minute()));
        assert_eq!(read, time, "{text}");
    }
}

#[test]
fn sentences_are_told_in_us_units() {
    for (si, us) in [
        ("until it is 1 K warmer.", "until it is 1.8 °F warmer."),
        (
            "the supply climbs from 8 to 45 °C in 30 min",
            "the supply climbs from 46 to 113 °F in 30 min",
        ),
        ("the slab falls to 2.1 °C;", "the slab falls to 35.8 °F;"),
        ("jumps about by ±5 K", "jumps about by ±9 °F"),
        ("cools to -18 °C in 6 hours", "cools to 0 °F in 6 hours"),
        (
            "with 0.5 % or 3 L of reserve, 0.7 to 2.5 bar",
            "with 0.5 % or 0.79 gal of reserve, 10 to 36 psi",
        ),
        ("(25 mm of it)", "(0.98 in of it)"),
        (
            "stone 1.7 W/mK to 2.8 W/mK.",
            "stone 0.98 Btu/h·ft·°F to 1.6 Btu/h·ft·°F.",
        ),
        ("the three of them K ways", "the three of them K ways"),
    ] {
        assert_eq!(told(si, Units::Us), us);
        assert_eq!(told(si, Units::Si), si);
    }
}
