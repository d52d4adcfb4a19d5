//! Columns: by header, by mapping, relay limits, extra text.

use super::{
    super::{Cell, ColumnMapping, LogErrorKind, LogStart, MappingError, Quantity, ReaderOptions},
    all, error, error_with, open, open_with, options,
};

#[test]
fn headers_are_found_in_any_case_and_order() {
    let text = "Boiler_Call, SLAB_C ,other,circulator,store_c,air_f,outdoor_c,return_c,supply_f,Time_S\n\
                off,3.5,x,on,9,50,-4.25,5.5,48.2,0\n";
    let mut reader = open(text);
    let row = reader.next_row().expect("a row").expect("a row");
    assert_eq!(
        row.readings(),
        [9 * 128, 704, 448, -544, 1280, 9 * 128].map(Cell::Reading)
    );
    assert_eq!((row.circulator, row.boiler_call), (Some(true), Some(false)));
    assert!(
        Quantity::ALL
            .into_iter()
            .all(|quantity| reader.has(quantity))
    );
}

#[test]
fn an_absent_column_is_missing_and_said_to_be_absent() {
    let mut reader = open("time_s,slab_c,circulator\n0,3.5,1\n10,,\n");
    let present: Vec<Quantity> = Quantity::ALL
        .into_iter()
        .filter(|&quantity| reader.has(quantity))
        .collect();
    assert_eq!(present, [Quantity::Slab, Quantity::Circulator]);
    let rows = all(&mut reader).expect("rows");
    assert_eq!(
        rows[0].readings().map(|cell| cell == Cell::Missing),
        [true, true, false, true, true, true]
    );
    assert_eq!(rows[1].circulator, None);
    assert_eq!(reader.summary().missing, [2, 2, 1, 2, 2, 2, 1, 2]);
}

#[test]
fn a_measured_log_is_read_through_mappings() {
    // The headers of a measured log, with its flow as the circulator's state.
    let text = "time_utc,t_supply_C,t_return_C,t_outdoor_C,flow_m3h,gti_Wm2\n\
                2017-01-15 00:00:00,31.734,-6.878,-4.803,0.0017,0.0\n\
                2017-01-15 00:01:00,31.62,-6.882,-4.803,0.9,0.0\n";
    let mappings = options(&[
        "time=time_utc",
        "supply_c=t_supply_C",
        "return_c = t_return_c",
        "outdoor_c=t_outdoor_C",
        "circulator=flow_m3h > 0.05",
    ]);
    let mut reader = open_with(text, &mappings).expect("a log");
    let rows = all(&mut reader).expect("rows");
    // 31.734 × 128 = 4061.952; −6.878 × 128 = −880.384; −4.803 × 128 = −614.784.
    assert_eq!(
        rows[0].readings()[..4],
        [
            Cell::Reading(4062),
            Cell::Reading(-880),
            Cell::Missing,
            Cell::Reading(-615)
        ]
    );
    assert_eq!(
        (rows[0].circulator, rows[1].circulator),
        (Some(false), Some(true))
    );
    assert_eq!(rows[1].time_ms, 60_000);
    assert_eq!(reader.median_interval_ms(), Some(60_000));
}

#[test]
fn a_mapping_outranks_a_header_and_may_change_the_unit() {
    let text = "time_s,slab_c,Floor\n0,3.5,50\n";
    let row = open_with(text, &options(&["SLAB_F=Floor"]))
        .expect("a log")
        .next_row()
        .expect("a row")
        .expect("a row");
    assert_eq!(row.slab, Cell::Reading(1280));
    // Two quantities may share a column.
    let shared = options(&["store_c=slab_c"]);
    let row = open_with(text, &shared)
        .expect("a log")
        .next_row()
        .expect("a row")
        .expect("a row");
    assert_eq!(row.store, row.slab);
}

#[test]
fn headers_that_differ_in_case_only_are_told_apart_by_a_mapping() {
    let text = "time_s,Slab,slab\n0,1,2\n";
    let row = open_with(text, &options(&["slab_c=slab"]))
        .expect("a log")
        .next_row()
        .expect("a row")
        .expect("a row");
    assert_eq!(row.slab, Cell::Reading(256));
    let error = error_with(text, &options(&["slab_c=SLAB"]));
    assert!(
        matches!(
            error.kind(),
            LogErrorKind::RepeatedColumn {
                first: 2,
                second: 3,
                ..
            }
        ),
        "{error}"
    );
}

#[test]
fn seconds_come_before_a_date_and_time() {
    let text = "time,time_s,slab_c\n2017-01-15,5,3\n";
    assert_eq!(open(text).start(), LogStart::Seconds { ms: 5000 });
    assert!(matches!(
        open_with(text, &options(&["time=time"]))
            .expect("a log")
            .start(),
        LogStart::Local(_)
    ));
}

#[test]
fn columns_that_are_wrong_are_errors_of_the_header() {
    for (text, mappings, part) in [
        (
            "clock,slab_c\n0,1\n",
            &[][..],
            "no time among the headers clock, slab_c",
        ),
        (
            "time_s,floor\n0,1\n",
            &[],
            "no reading among the headers time_s, floor",
        ),
        ("time_s,air_c\n0,1\n", &[], "no reading"),
        (
            "time_s,slab_c,slab_f\n0,1,1\n",
            &[],
            "found slab twice, in fields 2 and 3",
        ),
        (
            "time_s,slab_c,SLAB_C\n0,1,1\n",
            &["supply_c=slab_C"],
            "found slab_C twice",
        ),
        (
            "time_s,slab_c\n0,1\n",
            &["supply_c=Flow"],
            "no header \"Flow\"; expected one of time_s, slab_c",
        ),
        (
            "time_s,slab_c,b\n0,1,1\n",
            &["supply_c=slab_c", "supply_f=b"],
            "as one column",
        ),
    ] {
        let error = error_with(text, &options(mappings));
        assert_eq!(error.line(), Some(1), "{error}");
        assert!(
            error.to_string().starts_with("house.csv, line 1: "),
            "{error}"
        );
        assert!(error.to_string().contains(part), "{error}");
    }
    // An empty log has no line to blame.
    assert!(matches!(error("").kind(), LogErrorKind::NoHeader));
    assert!(matches!(
        error("# only a remark\n\n").kind(),
        LogErrorKind::NoHeader
    ));
    assert!(matches!(
        error("time_s,slab_c\n\n# nothing\n").kind(),
        LogErrorKind::NoRows
    ));
}

#[test]
fn mappings_are_read_as_typed() {
    let parse = |text: &str| text.parse::<ColumnMapping>();
    assert!(parse("supply_c=T=flow (°C)").is_ok());
    // No limit without a number; none for a temperature.
    let text = "time_s,a>b,c>5\n0,1,20.5\n";
    let reader = open_with(text, &options(&["circulator=a>b", "slab_c=c>5"])).expect("a log");
    assert!(reader.has(Quantity::Circulator) && reader.has(Quantity::Slab));
    assert_eq!(
        parse("supply_c"),
        Err(MappingError::Form {
            found: "supply_c".to_owned()
        })
    );
    assert_eq!(
        parse("supply_c="),
        Err(MappingError::Form {
            found: "supply_c=".to_owned()
        })
    );
    assert_eq!(
        parse("circulator=>1"),
        Err(MappingError::Form {
            found: "circulator=>1".to_owned()
        })
    );
    let error = parse("flow_c=Flow").expect_err("no such name");
    assert!(
        error
            .to_string()
            .contains("expected time, time_s, date, time_of_day, supply_c"),
        "{error}"
    );
    assert!(parse("circulator_f=x").is_err());
}

#[test]
fn extra_columns_come_as_text_with_their_row() {
    let text = "time_s,slab_c,event,supply_status\n\
                0,3.5,\"boot: \"\"cold\"\"\n2 lines\",ok\n\
                10,3.5,,ok\n\
                20,3.5,first,ok\n\
                20,3.5,second,open\n\
                30,3.5,,ok\n";
    let wanted = ReaderOptions {
        extra_columns: ["Event", "absent", "supply_status"]
            .map(str::to_owned)
            .to_vec(),
        ..ReaderOptions::default()
    };
    let mut reader = open_with(text, &wanted).expect("a log");
    assert!(
        reader.has_extra(0) && !reader.has_extra(1) && reader.has_extra(2) && !reader.has_extra(9)
    );
    let mut seen = Vec::new();
    while let Some(row) = reader.next_row().expect("rows") {
        let text = |index| String::from_utf8(reader.extra(index).to_vec()).expect("UTF-8");
        seen.push((row.time_ms, reader.line(), text(0), text(1), text(2)));
        if row.time_ms == 20_000 {
            let error = reader.reject_extra(2, "ok or missing; correct the cell");
            assert_eq!(
                error.to_string(),
                "house.csv, line 6, column \"supply_status\" (field 4): found \"open\"; expected ok or missing; correct the cell"
            );
        }
    }
    let row = |time_ms, line, event: &str, status: &str| {
        (
            time_ms,
            line,
            event.to_owned(),
            String::new(),
            status.to_owned(),
        )
    };
    assert_eq!(
        seen,
        [
            row(0, 2, "boot: \"cold\"\n2 lines", "ok"),
            row(10_000, 4, "", "ok"),
            row(20_000, 6, "second", "open"),
            row(30_000, 7, "", "ok"),
        ]
    );
}
