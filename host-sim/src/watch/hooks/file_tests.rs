use super::*;

const GIVEN: &str = r#"
house = "Hillside"
silence = "5 min"
sign_of_life = "7 pm"

[hook.phone]
post = "https://push.invalid/house"
about = ["alarm", "wood"]
body = "text"
headers = { Title = "Plant house" }

[hook.bell]
command = ["/usr/local/bin/bell", "on"]
most_per_hour = 4

[hook.broker]
mqtt = "broker.home.arpa"
topic = "plant-house"
"#;

fn parsed(text: &str) -> Result<Hooks, String> {
    parse(text, Path::new(""), Units::Si)
}

#[test]
fn a_file_says_who_is_told_what() {
    let hooks = parsed(GIVEN).expect("hooks");
    assert_eq!(hooks.house.as_deref(), Some("Hillside"));
    assert_eq!(hooks.rules.silence.as_secs(), 300);
    assert_eq!(hooks.rules.remind.as_secs(), 3_600);
    assert_eq!(hooks.rules.sign_of_life.hour(), 19);
    let names: Vec<&str> = hooks.hooks.iter().map(|hook| hook.name.as_str()).collect();
    assert_eq!(names, ["bell", "broker", "phone"]);
    assert_eq!(hooks.hooks[2].about, [Kind::Alarm, Kind::Wood]);
    assert!(!hooks.hooks[0].about.contains(&Kind::Advice));
    assert_eq!(
        (hooks.hooks[0].most_per_hour, hooks.hooks[1].most_per_hour),
        (4, 20)
    );
    assert!(parsed("").expect("nothing is enough").hooks.is_empty());
}

#[test]
fn what_cannot_be_meant_is_refused_with_its_place() {
    for (text, expected) in [
        ("silence = \"5\"", "silence: "),
        (
            "silence = \"5 s\"",
            "silence: found \"5 s\"; expected 30 s to 24 h",
        ),
        (
            "remind = \"1 min\"",
            "remind: found \"1 min\"; expected 300 s to 24 h",
        ),
        (
            "sign_of_life = \"noonish\"",
            "sign_of_life: found \"noonish\"",
        ),
        ("sillence = \"5 min\"", "unknown field `sillence`"),
        (
            "[hook.a]",
            "hook.a: found none or several of command, post and mqtt",
        ),
        (
            "[hook.a]\npost = \"https://x\"\nmqtt = \"y\"\ntopic = \"z\"",
            "hook.a: found none or several",
        ),
        (
            "[hook.a]\npost = \"ftp://x\"",
            "hook.a: post: found \"ftp://x\"",
        ),
        ("[hook.a]\ncommand = []", "hook.a: command: found nothing"),
        (
            "[hook.a]\ncommand = [\"x\"]\ntopic = \"y\"",
            "hook.a: topic: found it in a hook of another kind",
        ),
        ("[hook.a]\nmqtt = \"y\"", "hook.a: topic: found none"),
        (
            "[hook.a]\nmqtt = \"y\"\ntopic = \"a/#\"",
            "hook.a: topic: found none",
        ),
        (
            "[hook.a]\nmqtt = \"mqtt://y\"\ntopic = \"z\"",
            "hook.a: mqtt: found \"mqtt://y\"",
        ),
        (
            "[hook.a]\nmqtt = \"y:port\"\ntopic = \"z\"",
            "hook.a: mqtt: found \"y:port\"",
        ),
        (
            "[hook.a]\nmqtt = \"y\"\ntopic = \"z\"\nuser = \"u\"",
            "expected both or neither",
        ),
        (
            "[hook.a]\npost = \"https://x\"\ntoken_file = \"nowhere\"",
            "hook.a: nowhere: ",
        ),
        (
            "[hook.a]\ncommand = [\"x\"]\nabout = []",
            "hook.a: about: found nothing",
        ),
        (
            "[hook.a]\ncommand = [\"x\"]\nabout = [\"weather\"]",
            "unknown variant `weather`",
        ),
        (
            "[hook.a]\ncommand = [\"x\"]\nmost_per_hour = 0",
            "most_per_hour: found 0; expected 1 to 120",
        ),
    ] {
        let error = parsed(text).err().unwrap_or_default();
        assert!(error.contains(expected), "{text}: {error}");
    }
}

#[test]
fn secrets_stand_in_files_beside_it() {
    let folder = tempfile::tempdir().expect("a folder");
    std::fs::write(folder.path().join("password"), "top secret\n").expect("written");
    assert_eq!(
        secret(folder.path(), Path::new("password")).as_deref(),
        Ok("top secret")
    );
    assert_eq!(
        broker_at("192.168.1.2:8883"),
        Ok(("192.168.1.2".to_owned(), 8_883))
    );
    assert_eq!(broker_at("broker"), Ok(("broker".to_owned(), 1_883)));
}
