//! What would mend a broken relation between settings, found by trying: the core alone knows what must hold.
//!
//! Every relation holds from some value of a setting on, upwards or downwards, so that halving finds that value. No formula of
//! the core stands here a second time.

use controller_core::settings::{Key, Kind, Problem, RawSettings, Relation, Settings};

use crate::files::quantity::{self, Units};
use crate::files::settings_file::{Scale, value_text};

/// One setting that alone would mend a relation.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Mend {
    /// Which.
    pub key: Key,
    /// To which side it has to move.
    pub bound: Bound,
    /// The nearest value that will do and that a person would write.
    pub bits: i32,
}

/// The side on which a setting's values will do.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Bound {
    /// This value or more.
    AtLeast,
    /// This value or less.
    AtMost,
    /// This value.
    Exactly,
}

impl Mend {
    /// "stop_difference at least 1.7 K".
    #[must_use]
    pub fn words(&self, units: Units) -> String {
        let field = self.key.field();
        let value = value_text(field, self.bits, units);
        match self.bound {
            Bound::AtLeast => format!("{} at least {value}", field.name),
            Bound::AtMost => format!("{} at most {value}", field.name),
            Bound::Exactly => format!("{} = {value}", field.name),
        }
    }
}

/// The settings a relation names, the one to look at first first.
#[must_use]
pub fn named(relation: &Relation) -> Vec<Key> {
    let mut keys = vec![relation.key];
    for key in relation
        .text
        .split(|c: char| !(c.is_ascii_lowercase() || c == '_'))
        .filter_map(Key::from_name)
    {
        if !keys.contains(&key) {
            keys.push(key);
        }
    }
    keys
}

/// Every setting that alone would mend a broken relation within its range.
#[must_use]
pub fn mends(raw: &RawSettings, relation: &Relation, units: Units) -> Vec<Mend> {
    named(relation)
        .into_iter()
        .filter_map(|key| mend(raw, relation, key, units))
        .collect()
}

/// The settings with every broken relation mended as far as it can be, moving each setting one way only. The settings in
/// `measured` are moved last, since they say what is there.
#[must_use]
pub fn made_consistent(mut raw: RawSettings, measured: &[Key], units: Units) -> RawSettings {
    let mut moved: Vec<(Key, Bound)> = Vec::new();
    // More rounds than relations: every round mends one.
    for _ in 0..64 {
        let Err(problems) = Settings::check(raw) else {
            break;
        };
        let mend = problems.iter().find_map(|problem| {
            let Problem::Relation(relation) = problem else {
                return None;
            };
            let allowed: Vec<Mend> = mends(&raw, relation, units)
                .into_iter()
                .filter(|mend| {
                    moved
                        .iter()
                        .all(|(key, bound)| *key != mend.key || *bound == mend.bound)
                })
                .collect();
            allowed
                .iter()
                .find(|mend| !measured.contains(&mend.key))
                .or(allowed.first())
                .copied()
        });
        let Some(mend) = mend else {
            break;
        };
        let _ = raw.set_bits(mend.key, mend.bits);
        moved.push((mend.key, mend.bound));
    }
    raw
}

fn holds(raw: &RawSettings, relation: &Relation) -> bool {
    match Settings::check(*raw) {
        Ok(_) => true,
        Err(problems) => !problems
            .iter()
            .any(|problem| problem == &Problem::Relation(*relation)),
    }
}

fn mend(raw: &RawSettings, relation: &Relation, key: Key, units: Units) -> Option<Mend> {
    let field = key.field();
    let holds_at = |bits: i32| {
        let mut changed = *raw;
        changed.set_bits(key, bits) && holds(&changed, relation)
    };
    if matches!(field.kind, Kind::Switch | Kind::Choice(_)) {
        let bits = (field.min..=field.max).find(|bits| holds_at(*bits))?;
        return Some(Mend {
            key,
            bound: Bound::Exactly,
            bits,
        });
    }
    let now = raw.bits(key).clamp(field.min, field.max);
    let (bound, far) = if holds_at(field.max) {
        (Bound::AtLeast, field.max)
    } else if holds_at(field.min) {
        (Bound::AtMost, field.min)
    } else {
        return None;
    };
    let (mut broken, mut whole) = (now, far);
    while broken.abs_diff(whole) > 1 {
        let middle = i32::midpoint(broken, whole);
        if holds_at(middle) {
            whole = middle;
        } else {
            broken = middle;
        }
    }
    Some(Mend {
        key,
        bound,
        bits: rounded(key, whole, bound, units)
            .filter(|bits| (field.min..=field.max).contains(bits) && holds_at(*bits))
            .unwrap_or(whole),
    })
}

/// The value with as few decimals as a person would write, on the side that will do.
fn rounded(key: Key, bits: i32, bound: Bound, units: Units) -> Option<i32> {
    let kind = key.field().kind;
    let scale = Scale::of(kind)?;
    let number = f64::from(bits) / scale.per_unit;
    if kind == Kind::Time {
        // Whole minutes from two minutes on, whole seconds below.
        let step = if number > 120.0 { 60.0 } else { 1.0 };
        return scale.bits(to_side(number / step, bound) * step);
    }
    if kind == Kind::Ratio {
        let step = two_digits(number);
        return scale.bits(to_side(number / step, bound) * step);
    }
    let (shown, unit) = quantity::convert(number, scale.dimension, units);
    let step = match kind {
        Kind::Temperature | Kind::Difference => 0.1,
        _ => two_digits(shown),
    };
    let shown = to_side(shown / step, bound) * step;
    let number = quantity::parse(&format!("{shown:.6} {unit}"), scale.dimension).ok()?;
    scale.bits(number)
}

/// The step in which a number has two digits.
fn two_digits(value: f64) -> f64 {
    libm::exp10(libm::floor(libm::log10(value.abs().max(1e-6))) - 1.0)
}

/// Up or down to a whole number; what is a whole number but for rounding stays.
fn to_side(value: f64, bound: Bound) -> f64 {
    const ROUNDING: f64 = 1e-3;
    match bound {
        Bound::AtLeast => (value - ROUNDING).ceil(),
        Bound::AtMost | Bound::Exactly => (value + ROUNDING).floor(),
    }
}

#[cfg(test)]
#[path = "settings_relations_tests.rs"]
mod tests;
