//! The answer as one JSON object.

use serde::Serialize;
use serde_json::{Map, Value, json};

use super::text::Shown;
use crate::questions::tonight::Verdict;
use crate::questions::tonight::ensemble::Range;
use crate::questions::tonight::fire::FireAnswer;

impl Shown<'_> {
    fn time_json(&self, second: f64) -> Value {
        if second.is_finite() {
            json!(self.at(second).strftime("%Y-%m-%dT%H:%M").to_string())
        } else {
            Value::Null
        }
    }

    /// A range of times; what does not come before the end is left out.
    fn times_json(&self, range: Range) -> Value {
        let mut object = Map::new();
        for (name, second) in [
            ("early", range.low),
            ("middle", range.middle),
            ("late", range.high),
        ] {
            if second.is_finite() {
                object.insert(name.to_owned(), self.time_json(second));
            }
        }
        Value::Object(object)
    }

    /// One object. Temperatures in °C whatever the units shown.
    #[must_use]
    pub fn json(&self) -> Value {
        let answer = self.answer;
        let alone = &answer.alone;
        let axis = &answer.axis;
        let course: Vec<Value> = alone
            .times_s(axis.now_s)
            .zip(&alone.fan_c)
            .zip(&alone.outdoor_c)
            .map(|((second, slab), outdoor)| {
                json!({
                    "time": self.time_json(second as f64),
                    "slab_c": range_json(*slab),
                    "outdoor_c": range_json(*outdoor),
                })
            })
            .collect();
        let mut object = json!({
            "now": self.time_json(axis.now_s as f64),
            "until": self.time_json(axis.until_s as f64),
            "sunset": self.time_json(axis.sunset_s as f64),
            "sunrise": self.time_json(axis.sunrise_s as f64),
            "answer": answer.verdict().words(),
            "holds": answer.verdict() == Verdict::Holds,
            "target_c": rounded(answer.target_c),
            "slab_now_c": rounded(answer.present.slab_c),
            "store_now_c": rounded(answer.present.store.celsius()),
            "forecast": self.forecast,
            "outdoor_min_c": range_json(alone.outdoor_low_c),
            "air_min_c": range_json(alone.air_low_c),
            "air_hours_below_zero": range_json(alone.air_below_zero_h),
            "holds_with_fire": answer.holds_with_fire(),
            "nights": alone.members,
            "nights_holding": alone.holding,
            "nights_above_zero": alone.above_zero,
            "slab_min_c": range_json(alone.coldest_c),
            "below_target_time": self.times_json(alone.below_target_s),
            "below_zero_time": self.times_json(alone.below_zero_s),
            "nights_under_controller": alone.controlled,
            "correction_k": rounded(alone.correction_k),
            "course": course,
            "notes": self.notes,
        });
        if let (Some(fire), Some(map)) = (&answer.fire, object.as_object_mut()) {
            map.insert("fire".to_owned(), self.fire_json(fire));
        }
        if let (Some(curtained), Some(map)) = (answer.curtained, object.as_object_mut()) {
            map.insert(
                "with_a_curtain".to_owned(),
                json!({
                    "nights": curtained.nights,
                    "nights_holding": curtained.holding,
                    "slab_min_c": range_json(curtained.coldest_c),
                }),
            );
        }
        if let (Some(outdoor_c), Some(map)) = (answer.present.outdoor_c, object.as_object_mut()) {
            map.insert("outdoor_now_c".to_owned(), json!(rounded(outdoor_c)));
        }
        object
    }

    fn fire_json(&self, fire: &FireAnswer) -> Value {
        let mut object = json!({
            "nights": fire.nights,
            "nights_called": fire.called,
            "nights_holding": fire.holding,
            "first_call_time": self.times_json(fire.first_call_s),
            "slab_min_c": range_json(fire.coldest_c),
            "above_target_from_time": self.times_json(fire.safe_from_s),
            "boiler_heat_kwh": range_json(fire.heat_kwh),
        });
        let Some(map) = object.as_object_mut() else {
            return object;
        };
        if let Some(light_s) = fire.light_by_s {
            map.insert("light_by_time".to_owned(), self.time_json(light_s as f64));
            map.insert("unlit_nights_holding".to_owned(), json!(fire.unlit_holding));
            map.insert(
                "unlit_slab_min_c".to_owned(),
                range_json(fire.unlit_coldest_c),
            );
            map.insert("wood_kg".to_owned(), range_json(fire.wood_kg));
            map.insert(
                "feed_again_time".to_owned(),
                self.times_json(fire.feed_again_s),
            );
        }
        if let Some(at_once) = &fire.at_once {
            map.insert(
                "lit_and_called_now".to_owned(),
                json!({
                    "nights_holding": at_once.holding,
                    "slab_min_c": range_json(at_once.coldest_c),
                    "wood_kg": range_json(at_once.wood_kg),
                }),
            );
        }
        if let Some(dies) = &fire.dies {
            map.insert(
                "if_it_dies".to_owned(),
                json!({
                    "time": self.time_json(dies.at_s as f64),
                    "nights_holding": dies.holding,
                    "nights_above_zero": dies.above_zero,
                    "slab_min_c": range_json(dies.coldest_c),
                    "below_target_time": self.times_json(dies.below_target_s),
                }),
            );
        }
        object
    }
}

#[derive(Serialize)]
struct RangeJson {
    low: f64,
    middle: f64,
    high: f64,
}

fn range_json(range: Range) -> Value {
    json!(RangeJson {
        low: rounded(range.low),
        middle: rounded(range.middle),
        high: rounded(range.high),
    })
}

fn rounded(value: f64) -> f64 {
    (value * 100.0).round() / 100.0
}
