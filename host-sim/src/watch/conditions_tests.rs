use super::*;
use crate::serial::row::Columns;

/// A row of a unit with these alarms and this advice on wood.
fn row(slab: &str, bell: u8, alarms: &str, wood: &str) -> Row {
    let columns = Columns::new("time_s,slab_c,outdoor_c,alarm,alarms,wood,wood_kg,wood_within_min");
    let text = format!("1,{slab},-9.5,{bell},{alarms},{wood}");
    columns.row(&text).expect("a row")
}

const NO_WOOD: &str = ",,";

/// Conditions with a clock.
struct Bench {
    conditions: Conditions,
    seconds: u64,
    told: Vec<Message>,
}

const BEGIN: &str = "2026-01-05T17:00:00+01:00[+01:00]";

impl Bench {
    /// Behind its first sign of life.
    fn new() -> Self {
        let mut bench = Self::after(&[]);
        bench.hear(Heard::Nothing);
        bench.told.clear();
        bench
    }

    fn after(told: &[Message]) -> Self {
        let rules = Rules {
            silence: Duration::from_secs(600),
            remind: Duration::from_secs(3_600),
            sign_of_life: Time::constant(8, 0, 0, 0),
            units: Units::Si,
        };
        Self {
            conditions: Conditions::after(rules, told),
            seconds: 0,
            told: Vec::new(),
        }
    }

    fn hear(&mut self, heard: Heard<'_>) {
        let begin: ZonedDateTime = BEGIN.parse().expect("a time");
        let now = Now {
            running: Duration::from_secs(self.seconds),
            date: begin.saturating_add(jiff::SignedDuration::from_secs(self.seconds as i64)),
        };
        self.told.extend(self.conditions.hear(heard, &now));
    }

    /// The same row every ten seconds for so long.
    fn rows(&mut self, minutes: u64, row: &Row) {
        for _ in 0..minutes * 6 {
            self.hear(Heard::Row(row));
            self.seconds += 10;
        }
    }

    fn quiet(&mut self, minutes: u64) {
        for _ in 0..minutes * 60 {
            self.hear(Heard::Nothing);
            self.seconds += 1;
        }
    }

    /// What was told since the last look, without the signs of life.
    fn told(&mut self) -> Vec<(String, Stage)> {
        let told = std::mem::take(&mut self.told);
        told.into_iter()
            .filter(|message| message.kind != Kind::SignOfLife)
            .map(|message| (message.condition, message.stage))
            .collect()
    }
}

fn stages(name: &str, stages: &[Stage]) -> Vec<(String, Stage)> {
    stages
        .iter()
        .map(|stage| (name.to_owned(), *stage))
        .collect()
}

#[test]
fn an_alarm_is_told_at_once_again_while_it_rings_and_when_it_is_over() {
    let mut bench = Bench::new();
    bench.rows(5, &row("3.5", 0, "", NO_WOOD));
    assert_eq!(bench.told(), []);
    bench.hear(Heard::Row(&row("1.5", 1, "slab_cold", NO_WOOD)));
    let message = bench.told.last().expect("a message").clone();
    assert_eq!(message.kind, Kind::Alarm);
    assert_eq!(
        message.text,
        "Slab cold: The slab is near freezing, whatever the cause. Slab 1.5 °C, outdoor -9.5 °C."
    );
    assert_eq!(message.remedy, Alarm::SlabCold.remedy());
    assert_eq!(bench.told(), stages("slab_cold", &[Stage::Begins]));
    bench.rows(125, &row("1.5", 1, "slab_cold", NO_WOOD));
    assert_eq!(
        bench.told(),
        stages("slab_cold", &[Stage::Stands, Stage::Stands])
    );
    // Acknowledged: the bell is silent, and so is this.
    bench.rows(125, &row("1.5", 0, "slab_cold", NO_WOOD));
    assert_eq!(bench.told(), []);
    bench.rows(9, &row("3.5", 0, "", NO_WOOD));
    assert_eq!(bench.told(), []);
    bench.rows(3, &row("3.5", 0, "", NO_WOOD));
    assert_eq!(bench.told(), stages("slab_cold", &[Stage::Over]));
}

#[test]
fn what_comes_and_goes_is_told_once() {
    let mut bench = Bench::new();
    for _ in 0..30 {
        bench.rows(1, &row("3.5", 0, "noisy", NO_WOOD));
        bench.rows(4, &row("3.5", 0, "", NO_WOOD));
    }
    assert_eq!(bench.told(), stages("noisy", &[Stage::Begins]));
    assert_eq!(
        bench.conditions.standing(),
        [("noisy".to_owned(), Kind::Advice)]
    );
}

#[test]
fn wood_is_asked_for_with_the_time_by_the_clock() {
    let mut bench = Bench::new();
    bench.rows(60, &row("3.5", 0, "", "no_more,,"));
    assert_eq!(bench.told(), []);
    bench.hear(Heard::Row(&row("3.5", 0, "", "light,5,40")));
    let message = bench.told.last().expect("a message");
    assert!(
        message
            .text
            .starts_with("Light the fire: 5 kg of wood within 40 min, by 18:40."),
        "{}",
        message.text
    );
    assert_eq!(bench.told(), stages("wood", &[Stage::Begins]));
    bench.rows(60, &row("3.2", 0, "", "light,6,0"));
    assert_eq!(bench.told(), []);
    // Nobody lit it: more is wanted, which is told after half an hour and then no more often.
    bench.rows(61, &row("3.0", 0, "", "light,7,0"));
    let message = bench.told.last().expect("a message");
    assert!(
        message.text.contains("Light the fire: 7 kg of wood now."),
        "{}",
        message.text
    );
    assert_eq!(bench.told(), stages("wood", &[Stage::Stands]));
    bench.rows(12, &row("4.2", 0, "", "no_more,,"));
    assert_eq!(bench.told(), stages("wood", &[Stage::Over]));
}

#[test]
fn silence_is_told_and_its_end_whatever_the_port_does() {
    let mut bench = Bench::new();
    bench.rows(1, &row("3.5", 0, "", NO_WOOD));
    bench.hear(Heard::NoPort);
    bench.quiet(9);
    assert_eq!(bench.told(), []);
    bench.quiet(2);
    let message = bench.told.last().expect("a message");
    assert!(
        message
            .text
            .starts_with("No row from the unit for 10 min. Its port is not there.")
    );
    assert_eq!(bench.told(), stages("silence", &[Stage::Begins]));
    bench.quiet(120);
    assert_eq!(
        bench.told(),
        stages("silence", &[Stage::Stands, Stage::Stands])
    );
    bench.hear(Heard::Row(&row("3.5", 0, "", NO_WOOD)));
    assert_eq!(bench.told(), stages("silence", &[Stage::Over]));
}

#[test]
fn a_restart_tells_nothing_twice_and_forgets_nothing() {
    let mut bench = Bench::new();
    bench.rows(5, &row("1.5", 1, "slab_cold no_flow", "light,5,40"));
    let told = std::mem::take(&mut bench.told);
    assert_eq!(told.len(), 3, "{told:?}");
    let mut bench = Bench::after(&told);
    // Its sign of life was told by another run, which this does not know.
    bench.hear(Heard::Nothing);
    bench.told.clear();
    bench.rows(5, &row("1.5", 1, "slab_cold no_flow", "light,5,40"));
    assert!(bench.told.is_empty(), "{:?}", bench.told);
    bench.rows(15, &row("1.5", 1, "slab_cold", "light,5,40"));
    assert_eq!(bench.told(), stages("no_flow", &[Stage::Over]));
    let ids: Vec<u64> = told.iter().map(|message| message.id).collect();
    assert_eq!(ids, [2, 3, 4]);
    assert_eq!(bench.conditions.next_id, 7);
}

#[test]
fn a_sign_of_life_comes_at_once_and_then_once_a_day() {
    let mut bench = Bench::after(&[]);
    bench.hear(Heard::Nothing);
    assert_eq!(bench.told.len(), 1);
    assert!(
        bench.told[0]
            .text
            .starts_with("Watching has begun. No row has come")
    );
    bench.told.clear();
    bench.rows(15 * 60 + 5, &row("3.5", 0, "", NO_WOOD));
    assert_eq!(bench.told.len(), 1, "{:?}", bench.told);
    assert_eq!(
        bench.told[0].text,
        "Nothing is wrong. Slab 3.5 °C, outdoor -9.5 °C. Coldest slab since the last sign of life 3.5 °C."
    );
    assert_eq!(bench.told[0].at.strftime("%H:%M").to_string(), "08:00");
    bench.told.clear();
    bench.rows(60, &row("1.2", 1, "slab_cold", NO_WOOD));
    bench.told.clear();
    bench.rows(23 * 60, &row("3.5", 0, "noisy", NO_WOOD));
    let last = bench.told.last().expect("the next morning's").clone();
    assert_eq!(last.kind, Kind::SignOfLife);
    assert!(
        last.text.starts_with("Not as it should be: noisy."),
        "{}",
        last.text
    );
    assert!(last.text.ends_with("1.2 °C."), "{}", last.text);
}

#[test]
fn a_sign_of_life_from_a_clock_that_was_ahead_does_not_stop_the_next() {
    let mut bench = Bench::after(&[]);
    bench.hear(Heard::Nothing);
    let mut told = std::mem::take(&mut bench.told);
    told[0].at = "2037-05-05T08:00:00+01:00[+01:00]".parse().expect("a time");
    let mut bench = Bench::after(&told);
    bench.hear(Heard::Nothing);
    assert_eq!(bench.told.len(), 1, "{:?}", bench.told);
}

#[test]
fn a_log_that_cannot_be_written_is_told_once_and_so_is_what_was_lost() {
    let mut bench = Bench::new();
    for _ in 0..100 {
        bench.hear(Heard::LogFault("no space left on device"));
        bench.rows(1, &row("3.5", 0, "", NO_WOOD));
    }
    assert_eq!(bench.told(), stages("log", &[Stage::Begins]));
    bench.hear(Heard::LogMended(2));
    assert!(
        bench.told[0].text.contains("2 rows were lost"),
        "{:?}",
        bench.told
    );
    assert_eq!(bench.told(), stages("log", &[Stage::Over]));
}

#[test]
fn outputs_that_rest_are_told_whatever_the_rows_decide() {
    let mut bench = Bench::new();
    bench.hear(Heard::Held(true));
    bench.rows(70, &row("3.5", 0, "", NO_WOOD));
    assert_eq!(
        bench.told(),
        stages("outputs_held", &[Stage::Begins, Stage::Stands])
    );
    bench.hear(Heard::Held(false));
    assert_eq!(bench.told(), stages("outputs_held", &[Stage::Over]));
}

#[test]
fn an_alarm_of_a_newer_unit_is_told_by_its_name() {
    let mut bench = Bench::new();
    bench.hear(Heard::Row(&row("3.5", 1, "chimney_hot", NO_WOOD)));
    let message = bench.told.last().expect("a message");
    assert_eq!(message.kind, Kind::Alarm);
    assert!(
        message
            .text
            .starts_with("Chimney hot: This program does not know it")
    );
}
