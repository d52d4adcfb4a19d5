//! What a plan file says, and what is refused with its place.

use super::*;

const L_SHAPE: &str = r#"
[floor]
corners = ["0 m, 0 m", "6 m, 0 m", "6 m, 2.4 m", "3 m, 2.4 m", "3 m, 4.8 m", "0 m, 4.8 m"]
entry = "0 m, 1 m"
edge_distance = "100 mm"
mesh = "0.15 m"
bend_radius = "80 mm"
circuits = 2
[[obstacle]]
from = "5.0 m, 2.0 m"
to = "4.0 m, 1.5 m"
[[joint]]
from = "3 m, 0 m"
to = "3 m, 2.4 m"
"#;

#[test]
fn everything_a_file_says_is_read() {
    let plan = Plan::parse(L_SHAPE, "plan.toml").expect("a plan");
    assert_eq!(plan.corners.len(), 6);
    assert_eq!(plan.entry, [0.0, 1.0]);
    assert_eq!(
        (plan.edge_m, plan.mesh_m, plan.bend_radius_m, plan.count),
        (0.1, Some(0.15), Some(0.08), Some(2))
    );
    assert_eq!(
        plan.obstacles,
        [Rect {
            low: [4.0, 1.5],
            high: [5.0, 2.0]
        }]
    );
    assert_eq!(plan.joints, [[[3.0, 0.0], [3.0, 2.4]]]);
    let short = Plan::parse(
        "[floor]\nwidth = \"12 ft\"\nlength = \"20 ft\"\n",
        "plan.toml",
    )
    .expect("a plan");
    assert_eq!(short.corners.len(), 4);
    assert!(
        (short.corners[2][0] - 6.096).abs() < 1e-9 && (short.corners[2][1] - 3.6576).abs() < 1e-9
    );
    let feet = Plan::parse("[floor]\ncorners = [\"0 ft, 0 ft\", \"19' 8\\\", 0 ft\", \"19' 8\\\", 10 ft\", \"0 ft, 10 ft\"]\n", "plan.toml").expect("a plan");
    assert!((feet.corners[1][0] - 5.9944).abs() < 1e-9);
}

#[test]
fn a_corner_on_a_straight_is_none() {
    let text = "[floor]\ncorners = [\"0 m, 0 m\", \"3 m, 0 m\", \"6 m, 0 m\", \"6 m, 3 m\", \"0 m, 3 m\"]\n";
    assert_eq!(
        Plan::parse(text, "plan.toml")
            .expect("a plan")
            .corners
            .len(),
        4
    );
}

#[test]
fn wrong_places_are_told_with_line_and_what_to_do() {
    let corners = |list: &str| format!("[floor]\ncorners = [{list}]\n");
    let with = |lines: &str| format!("[floor]\nwidth = \"3 m\"\nlength = \"6 m\"\n{lines}\n");
    for (text, parts) in [
        (
            corners(r#""0 m, 0 m", "4 m, 0 m", "4 m, 2 m", "1 m, 3 m""#),
            vec!["line 2", "oblique", "right ones"],
        ),
        (
            corners(r#""0 m, 0 m", "4 m, 0 m", "4 m, 3 m", "2 m, 3 m", "2 m, -1 m", "0 m, -1 m""#),
            vec!["line 2", "meets the side", "once round"],
        ),
        (
            corners(r#""0 m, 0 m", "4 m, 0 m", "4 m, 0 m", "4 m, 3 m", "0 m, 3 m""#),
            vec!["no length", "each corner once"],
        ),
        (
            corners(r#""0 m, 0 m", "4 m, 0 m", "2 m, 0 m", "2 m, 3 m", "0 m, 3 m""#),
            vec!["meets the side"],
        ),
        (
            corners(r#""0 m, 0 m", "4 m, 0 m", "4 m, 3 m""#),
            vec!["3 corners", "4 to 200"],
        ),
        (
            corners(r#""0, 0", "4, 0", "4, 3", "0, 3""#),
            vec!["line 2, column 12", "without a unit", "number and unit"],
        ),
        (
            corners(r#""0 m 0 m", "4 m, 0 m", "4 m, 3 m", "0 m, 3 m""#),
            vec!["\"0 m 0 m\"", "comma between"],
        ),
        (
            corners(r#""0 kg, 0 m", "4 m, 0 m", "4 m, 3 m", "0 m, 3 m""#),
            vec!["a mass", "two lengths"],
        ),
        (
            "[floor]\nwidth = \"3 m\"\n".to_owned(),
            vec!["no length", "add it"],
        ),
        (
            "[floor]\nwidth = \"3 m\"\nlength = 6\n".to_owned(),
            vec!["line 3", "without quotes"],
        ),
        (
            "[floor]\nwidth = \"3 mm\"\nlength = \"6 m\"\n".to_owned(),
            vec!["line 2", "0.5 m to 200 m"],
        ),
        (
            "[floor]\nmesh = \"0.15 m\"\n".to_owned(),
            vec!["neither corners nor width"],
        ),
        (
            "[room]\nwidth = \"3 m\"\n".to_owned(),
            vec!["unknown section", "no section [floor]"],
        ),
        ("[floor\n".to_owned(), vec!["no TOML", "line 1"]),
        (
            with("entrie = \"0 m, 0 m\""),
            vec!["unknown key", "nearest is entry"],
        ),
        (
            with("entry = \"3 m, 1.5 m\""),
            vec!["line 4", "at a wall", "move it"],
        ),
        (with("circuits = 0"), vec!["1 to 50"]),
        (
            with("[[obstacle]]\nfrom = \"5 m, 1 m\"\nto = \"7 m, 2 m\""),
            vec!["an obstacle from", "on the floor"],
        ),
        (
            with("[[obstacle]]\nfrom = \"5 m, 1 m\"\nto = \"5 m, 2 m\""),
            vec!["no width"],
        ),
        (with("[[obstacle]]\nfrom = \"5 m, 1 m\""), vec!["no to"]),
        (
            with(
                "[[obstacle]]\nfrom = \"1 m, 1 m\"\nto = \"2 m, 2 m\"\n[[obstacle]]\nfrom = \"1.5 m, 1 m\"\nto = \"2.5 m, 2 m\"",
            ),
            vec!["overlaps another"],
        ),
        (
            with("[[joint]]\nfrom = \"1 m, 0 m\"\nto = \"2 m, 3 m\""),
            vec!["a joint from", "one of the two directions"],
        ),
        (with("obstacle = 3"), vec!["unknown key"]),
    ] {
        let error = Plan::parse(&text, "plan.toml")
            .expect_err(&text)
            .to_string();
        for part in parts {
            assert!(
                error.contains(part),
                "{part:?} is not in {error:?} for {text}"
            );
        }
        assert!(error.starts_with("plan.toml: line "), "{error}");
        assert!(
            error.contains("; expected ") && error.contains(": found "),
            "{error}"
        );
    }
}

#[test]
fn messages_are_in_the_units_of_the_file() {
    let error = Plan::parse(
        "[floor]\nwidth = \"1 ft\"\nlength = \"20 ft\"\n",
        "plan.toml",
    )
    .expect_err("narrow")
    .to_string();
    assert!(error.contains("1.64 ft to 656.168 ft"), "{error}");
}
