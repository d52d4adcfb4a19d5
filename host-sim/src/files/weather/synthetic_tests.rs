//! Years made up from a line, beside the two real files whose means and design night the line has.

use super::*;

/// What a first look is judged by, of a year.
#[derive(Debug)]
struct Seen {
    /// Kelvin-hours below 0 °C, November to March.
    frost_kh: f64,
    coldest_c: f64,
    /// Mean of the days' highs less lows, November to March, K.
    swing_k: f64,
}

fn seen(year: &WeatherYear) -> Seen {
    let days: Vec<&[Hour]> = year
        .hours
        .chunks(24)
        .filter(|day| !(4..=10).contains(&day[0].month))
        .collect();
    let air = |day: &[Hour]| day.iter().map(|hour| hour.dry_bulb_c).collect::<Vec<_>>();
    let swing = |day: &&[Hour]| {
        let air = air(day);
        air.iter().copied().fold(f64::NEG_INFINITY, f64::max)
            - air.iter().copied().fold(f64::INFINITY, f64::min)
    };
    Seen {
        frost_kh: days
            .iter()
            .flat_map(|day| air(day))
            .map(|air| (-air).max(0.0))
            .sum(),
        coldest_c: days
            .iter()
            .flat_map(|day| air(day))
            .fold(f64::INFINITY, f64::min),
        swing_k: days.iter().map(swing).sum::<f64>() / days.len() as f64,
    }
}

fn means(year: &WeatherYear) -> [f64; 12] {
    std::array::from_fn(|month| {
        let air = year
            .hours
            .iter()
            .filter(|hour| usize::from(hour.month) == month + 1)
            .map(|hour| hour.dry_bulb_c);
        air.clone().sum::<f64>() / air.count() as f64
    })
}

fn climate_of(year: &WeatherYear) -> Climate {
    let means = means(year).map(|mean| format!("{mean:.2}")).join(" ");
    let text = format!(
        "{} N, {} C, {means}",
        year.station.latitude_deg,
        year.station.heating_design_c.expect("a design night")
    );
    Climate::parse(&text).unwrap_or_else(|error| panic!("{error}"))
}

/// Limits stated in docs/formats.md, for five seeds and both files: frost within a third, the coldest hour within 7 K, the daily
/// swing within 4 K.
#[test]
fn a_year_from_a_line_is_like_the_real_one() {
    for real in [super::super::demo(), super::super::hard()] {
        let real = real.expect("built in");
        let climate = climate_of(&real);
        let truth = seen(&real);
        for seed in 1..=5 {
            let made = seen(&year(&climate, seed));
            let name = &real.station.name;
            assert!(
                (made.frost_kh / truth.frost_kh - 1.0).abs() < 0.34,
                "{name}, seed {seed}: {made:?}, {truth:?}"
            );
            assert!(
                (made.coldest_c - truth.coldest_c).abs() < 7.0,
                "{name}, seed {seed}: {made:?}, {truth:?}"
            );
            assert!(
                (made.swing_k - truth.swing_k).abs() < 4.0,
                "{name}, seed {seed}: {made:?}, {truth:?}"
            );
            println!("{name}, seed {seed}: {made:?}, {truth:?}");
        }
    }
}

#[test]
fn means_and_design_night_are_met_and_the_seed_decides_the_rest() {
    let climate =
        Climate::parse("45 N, -22 C, -6 -4 1 8 14 19 22 21 16 9 2 -4").expect("a climate");
    let made = year(&climate, 7);
    for (made, asked) in means(&made).iter().zip(climate.monthly_c) {
        assert!((made - asked).abs() < 0.01, "{made}, {asked}");
    }
    let colder = made
        .hours
        .iter()
        .filter(|hour| hour.dry_bulb_c < -22.0)
        .count();
    assert!((34..=36).contains(&colder), "{colder} of 8760 hours");
    assert_eq!(made, year(&climate, 7));
    assert_ne!(made.hours, year(&climate, 8).hours);
    assert_eq!(made.hours.len(), 8760);
    assert_eq!(
        made.period(date(2025, 10, 15), 182)
            .map(|period| period.days()),
        Ok(182)
    );
}

/// The sun of a year on a horizontal plane: 4.0 kWh/m² a day and more in either file.
#[test]
fn the_sun_is_of_the_right_size() {
    for real in [super::super::demo(), super::super::hard()] {
        let real = real.expect("built in");
        let sum = |year: &WeatherYear| -> f64 {
            year.hours
                .iter()
                .map(|hour| hour.global_horizontal_wh_m2)
                .sum::<f64>()
                / 365.0
        };
        let (made, truth) = (sum(&year(&climate_of(&real), 1)), sum(&real));
        assert!(
            (made / truth - 1.0).abs() < 0.25,
            "{}: {made}, {truth}",
            real.station.name
        );
    }
}

#[test]
fn in_the_south_july_is_cold_and_its_sun_low() {
    let climate = Climate::parse("45 S, -6 C, 17 16 14 10 7 4 3 5 8 11 13 15").expect("a climate");
    let made = year(&climate, 1);
    let coldest = made
        .hours
        .iter()
        .min_by(|a, b| a.dry_bulb_c.total_cmp(&b.dry_bulb_c))
        .expect("hours");
    assert!((5..=9).contains(&coldest.month), "{}", coldest.month);
    let sun = |month: u8| -> f64 {
        made.hours
            .iter()
            .filter(|hour| hour.month == month)
            .map(|hour| hour.global_horizontal_wh_m2)
            .sum()
    };
    assert!(sun(1) > 2.0 * sun(7));
}
