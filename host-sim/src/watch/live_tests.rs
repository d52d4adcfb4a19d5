use super::*;
use crate::serial::frame::sealed;

const COLUMNS: &str = "columns time_s,supply_c,return_c,slab_c,outdoor_c,circulator,boiler_call,alarm,reason,alarms,event";

fn bytes(lines: &[&str]) -> Vec<u8> {
    lines
        .iter()
        .flat_map(|line| sealed(line).into_bytes())
        .collect()
}

#[test]
fn it_asks_only_what_a_reader_asks() {
    let mut live = Live::new(Units::Si);
    assert_eq!(
        live.hear(b"").unwrap(),
        sealed("status") + &sealed("columns")
    );
    assert_eq!(live.hear(b"").unwrap(), "", "not again at once");
    assert_eq!(live.hear(&bytes(&[COLUMNS])).unwrap(), "");
    live.unplugged();
    live.connect();
    assert_eq!(
        live.hear(b"").unwrap(),
        sealed("status") + &sealed("columns"),
        "it may be another unit"
    );
}

#[test]
fn rows_are_known_kept_and_told_and_damage_is_counted() {
    let mut live = Live::new(Units::Si);
    live.connect();
    let status = "status version=1 board=bench build=a held=0 lines_lost=0";
    let mut lines = bytes(&[
        status,
        COLUMNS,
        "row 10,8,6,3.5,-9.5,1,0,0,store_heat,,",
        "row 30,8,6,1.5,-9.5,1,0,1,frost,slab_cold,",
    ]);
    let broken = sealed("row 50,8,6,9,-9.5,1,0,0,frost,,").replace(",9,", ",8,");
    lines.extend(broken.into_bytes());
    // In two pieces, as a port hands them over.
    let (first, second) = lines.split_at(100);
    live.hear(first).unwrap();
    live.hear(second).unwrap();
    let state = live.state();
    assert_eq!((state.rows, state.standing.len()), (2, 1));
    assert_eq!(state.now().and_then(|row| row.readings_c[2]), Some(1.5));
    assert!(
        state.messages[0].text.contains("slab"),
        "{:?}",
        state.messages
    );
    assert_eq!(live.counts().lines.wrong_checksum, 1);
    let log: Vec<&str> = live.log().lines().collect();
    assert_eq!(log[0], "# firmware version=1 board=bench build=a");
    assert_eq!(
        log[1],
        format!("{},time", COLUMNS.strip_prefix("columns ").unwrap())
    );
    assert!(
        log[2].starts_with("10,8,6,3.5,-9.5,1,0,0,store_heat,,,20"),
        "{}",
        log[2]
    );
    assert_eq!(log.len(), 4);
}

#[test]
fn another_unit_does_not_go_into_the_same_log() {
    let mut live = Live::new(Units::Si);
    live.connect();
    live.hear(&bytes(&[COLUMNS])).unwrap();
    live.unplugged();
    live.connect();
    let error = live.hear(&bytes(&["columns time_s,other"])).unwrap_err();
    assert!(
        error.to_string().starts_with("the log kept here: line 1"),
        "{error}"
    );
}
