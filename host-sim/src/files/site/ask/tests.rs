//! Questions and answers.

use super::*;
use crate::files::site::Site;
use crate::questions::own_settings::settings_for;

#[track_caller]
fn answered(lines: &str, units: Units) -> Answers {
    asked(lines, units, false)
        .unwrap_or_else(|error| panic!("{error}"))
        .0
}

fn asked(lines: &str, units: Units, is_person: bool) -> Result<(Answers, String), AskError> {
    let mut prompts = Vec::new();
    let answers = ask(&mut lines.as_bytes(), &mut prompts, units, is_person)?;
    Ok((answers, String::from_utf8(prompts).expect("text")))
}

#[track_caller]
fn site(answers: &Answers) -> Site {
    let text = answers.to_toml();
    Site::parse(&text, "asked.toml").unwrap_or_else(|error| panic!("{error}\n{text}"))
}

#[test]
fn every_default_together_is_the_demo_house() {
    let empty = "\n".repeat(QUESTIONS.len());
    let answers = answered(&empty, Units::Si);
    assert_eq!(answers.defaults(), QUESTIONS.len());
    let mut site = site(&answers).config;
    let demo = SiteConfig::default();
    // The R-value's figure is the demonstration site's but for its last digits.
    assert!((site.plant.house.edge_loss_w_mk - demo.plant.house.edge_loss_w_mk).abs() < 1e-4);
    site.plant.house.edge_loss_w_mk = demo.plant.house.edge_loss_w_mk;
    assert_eq!(site, demo);
    // Nothing typed at all is the same, and said.
    let (nothing, prompts) = asked("", Units::Si, false).expect("defaults");
    assert_eq!(nothing.to_toml(), answers.to_toml());
    assert!(
        prompts
            .contains("End of input: the defaults stand for this and the 14 questions after it."),
        "{prompts}"
    );
}

#[test]
fn the_end_of_input_says_how_many_questions_it_answers() {
    for (left, words) in [
        (1, "the default stands for this last question."),
        (2, "the defaults stand for this question and the last."),
        (
            3,
            "the defaults stand for this and the 2 questions after it.",
        ),
    ] {
        let given = "\n".repeat(QUESTIONS.len() - left);
        let (_, prompts) = asked(&given, Units::Si, false).expect("defaults");
        assert!(prompts.contains(words), "{words} is not in {prompts}");
    }
}

#[test]
fn defaults_in_us_units_are_round_and_a_house_that_can_be_built() {
    let (answers, prompts) = asked("", Units::Us, false).expect("defaults");
    let site = site(&answers);
    assert!(
        site.lints.iter().all(|lint| !lint.text.contains("unusual")),
        "{:?}",
        site.lints
    );
    for part in [
        "[20 ft]",
        "[12 ft]",
        "[10 in]",
        "[280 ft]",
        "[41 kBtu/h]",
        "[46 °F]",
        "[45 W]",
        "[1/2 in]",
        "[R-10]",
    ] {
        assert!(prompts.contains(part), "{part} is not in {prompts}");
    }
    for part in ["°C", " m ", " mm", " L/s", "W/m", " K "] {
        assert!(!prompts.contains(part), "{part} is in {prompts}");
        assert!(
            !answers.to_toml().contains(part),
            "{part} is in {}",
            answers.to_toml()
        );
    }
    assert_eq!(
        prompts
            .lines()
            .filter(|line| line.contains(&format!("/{} ", QUESTIONS.len())))
            .count(),
        QUESTIONS.len()
    );
}

#[test]
fn at_most_fifteen_questions_each_in_one_line_with_keys_the_site_file_has() {
    assert!(QUESTIONS.len() <= 15);
    let answers = answered("", Units::Si);
    for question in &QUESTIONS {
        let means = (question.means)(&answers);
        assert!(!means.contains('\n') && means.ends_with('.'), "{means}");
    }
    for said in &answers.said {
        assert_eq!(key(said.section, said.key).name, said.key);
    }
}

/// One 380 ft circuit of 1/2 in tube at 15 in under 30 × 16 ft, an 87 W circulator, a 100 kBtu/h boiler.
const LONG_CIRCUIT: &str = "30 ft\n16\n6 ft 3 in\n9'\ntwin-wall\nR-5\n1/2\"\n380 ft\n15 in\n19 ft\n15 gpm\n87 W\n100 MBH\n\
                            42 N, -4 F, 24 28 39 50 60 70 75 71 65 52 40 25\n50 F\n";

#[test]
fn a_house_of_feet_and_inches_is_written_as_it_was_said() {
    let answers = answered(LONG_CIRCUIT, Units::Us);
    assert_eq!(answers.defaults(), 0);
    let text = answers.to_toml();
    for part in [
        "length = \"30 ft\"",
        "width = \"16 ft\"",
        "eaves = \"6 ft 3 in\"",
        "ridge = \"9'\"",
        "edge_loss = \"R-5\"",
        "tube = \"1/2 in\"",
        "circuit_length = \"380 ft\"",
        "spacing = \"15 in\"",
        "power = \"87 W\"",
        "power = \"100 MBH\"",
        "weather = \"42 N, -4 F,",
        "mean = \"50 F\"",
    ] {
        assert!(text.contains(part), "{part} is not in {text}");
    }
    let site = site(&answers);
    let plant = &site.config.plant;
    assert!((plant.house.eaves_m - 75.0 * 0.0254).abs() < 1e-9);
    assert!((plant.store.floor.circuit_length_m - 380.0 * 0.3048).abs() < 1e-9);
    // 2 × 46 ft by 2.1 m.
    assert!(
        (plant.store.wall_area_m2 - 58.9).abs() < 0.1,
        "{}",
        plant.store.wall_area_m2
    );
    // 0.58 Btu/h·ft·°F.
    assert!((plant.house.edge_loss_w_mk - 1.0038).abs() < 1e-3);
    assert!(controller_core::settings::Settings::check(settings_for(&site)).is_ok());
}

#[test]
fn no_boiler_two_circuits_and_the_south() {
    let lines = "8 m\n4\n\n\ndouble film\nbare\n20x2.0\n2 x 60 m\n\n6 m\n3 m3/h\n60\nnone\n36 S, -4 C, 21 20 18 14 10 7 6 8 10 13 16 19\n\n";
    let answers = answered(lines, Units::Si);
    let site = site(&answers);
    let plant = &site.config.plant;
    assert!(plant.boiler.is_none());
    assert_eq!(plant.floor.circuits, 2);
    assert!(plant.supply_run.tube.area_m2() >= plant.floor.tube.area_m2());
    assert_eq!(plant.ground.coldest_day, 217.0);
    assert!(
        (plant.ground.mean_c - 13.5).abs() < 1e-9,
        "{}",
        plant.ground.mean_c
    );
    assert!(
        (plant.floor.spacing_m - 0.25).abs() < 1e-9,
        "{}",
        plant.floor.spacing_m
    );
    let text = answers.to_toml();
    assert!(
        text.contains("fitted = false") && !text.contains("kind ="),
        "{text}"
    );
}

/// Wrong answers one at a time: number of the question, the answers up to it, and what is said.
#[test]
fn an_answer_that_cannot_be_used_says_what_was_found_expected_and_to_do() {
    for (units, lines, question, parts) in [
        (
            Units::Us,
            "long\n",
            1,
            vec!["found \"long\"", "3.3 to 650 ft", "number"],
        ),
        (
            Units::Us,
            "400 ft\n3 ft\n",
            2,
            vec!["\"3 ft\"", "3.3 to 160 ft"],
        ),
        (
            Units::Us,
            "30 gal\n",
            1,
            vec!["\"30 gal\"", "measures something else", "ft"],
        ),
        (
            Units::Si,
            "6\n3.6\n2.5\n2.1\n",
            4,
            vec!["ridge of 2.1 m below eaves of 2.5 m"],
        ),
        (
            Units::Us,
            "\n\n8 ft\n7 ft\n",
            4,
            vec!["ridge of 7 ft below eaves of 8 ft"],
        ),
        (
            Units::Si,
            "\n\n\n\nice\n",
            5,
            vec!["\"ice\"", "twin-wall", "R-value"],
        ),
        (Units::Si, "\n\n\n\n\nwet\n", 6, vec!["\"wet\"", "W/mK"]),
        (
            Units::Us,
            "\n\n\n\n\n\n7/16 in\n",
            7,
            vec!["7/16 in", "\"1/2 in\""],
        ),
        (
            Units::Us,
            "\n\n\n\n\n\n\n0 x 90 ft\n",
            8,
            vec!["0 x 90 ft", "1 to 50", "2 x "],
        ),
        (
            Units::Si,
            "\n\n\n\n\n\n\n900 m\n",
            8,
            vec!["900 m of tube", "at most", "floor of 21.6 m²"],
        ),
        (
            Units::Us,
            "\n\n\n\n\n\n\n280 ft\n18 in\n",
            9,
            vec!["280 ft of tube at 18 in", "at most"],
        ),
        (
            Units::Us,
            "\n\n\n\n\n\n\n\n\n\n\n\nwood\n",
            13,
            vec!["\"wood\"", "none, or", "kBtu/h"],
        ),
        (
            Units::Si,
            "\n\n\n\n\n\n\n\n\n\n\n\n\n40 N, -22 C, 1 2 3\n",
            14,
            vec!["3 monthly means", "twelve"],
        ),
        (
            Units::Si,
            "\n\n\n\n\n\n\n\n\n\n\n\n\nnowhere.epw\n",
            14,
            vec!["nowhere.epw", "cannot be read"],
        ),
        (
            Units::Us,
            "\n\n\n\n\n\n\n\n\n\n\n\n\n\n20 F\n",
            15,
            vec!["freezes at 32 °F"],
        ),
    ] {
        let Err(AskError::Answer {
            question: number,
            text,
            ..
        }) = asked(lines, units, false)
        else {
            panic!("{lines:?} was taken");
        };
        assert_eq!(number, question, "{text}");
        for part in parts {
            assert!(text.contains(part), "{part} is not in {text}");
        }
        for part in ["found ", "; expected ", "; "] {
            assert!(text.contains(part), "{part} is not in {text}");
        }
        // A person is asked again, and the same answer with a better one behind it goes through.
        let (_, prompts) = asked(lines, units, true).expect("asked again");
        assert!(prompts.contains("found "), "{prompts}");
        let again = format!("\n{question:>2}/15 ");
        assert!(
            question == 1 || prompts.matches(&again).count() == 2,
            "{prompts}"
        );
    }
}

#[test]
fn remarks_behind_answers_are_passed_over_and_a_line_too_many_is_not() {
    let with = LONG_CIRCUIT.replace("30 ft\n16\n", "30 ft   # along the ridge\n16 # feet\n");
    assert_eq!(
        answered(&with, Units::Us).to_toml(),
        answered(LONG_CIRCUIT, Units::Us).to_toml()
    );
    let error =
        asked(&format!("{LONG_CIRCUIT}50 F\n"), Units::Us, false).expect_err("a line too many");
    assert!(error.to_string().contains("15 lines"), "{error}");
    assert!(asked(&format!("{LONG_CIRCUIT}\n"), Units::Us, false).is_ok());
}

#[test]
fn a_form_says_beside_its_question_what_cannot_be_used() {
    let typed = ["8 m".to_owned(), "wide".to_owned()];
    let (shown, answers) = form(Units::Si, &typed);
    assert_eq!(shown.len(), QUESTIONS.len());
    assert_eq!(shown[0].refused, None);
    let refused = shown[1].refused.as_deref().expect("a refusal");
    assert!(refused.contains("wide"), "{refused}");
    assert!((answers.config().plant.house.length_m - 8.0).abs() < 1e-9);
    // The default stands for what was refused, and the file is one that is read.
    crate::files::site::Site::parse(&answers.to_toml(), "site.toml").expect("a site");
}
