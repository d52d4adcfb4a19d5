//! What differs between two sets of settings, and how to get from one to the other.

use controller_core::settings::{Field, Key, Problem, RawSettings, Settings};

use crate::account::event::settings_note;

/// One setting that differs.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Change {
    /// Which.
    pub field: &'static Field,
    /// Its bits now.
    pub now: i32,
    /// Its bits afterwards.
    pub after: i32,
}

/// What differs, in the settings' order.
#[must_use]
pub fn changes(now: &RawSettings, after: &RawSettings) -> Vec<Change> {
    Field::all()
        .iter()
        .map(|field| Change {
            field,
            now: now.bits(field.key),
            after: after.bits(field.key),
        })
        .filter(|change| change.now != change.after)
        .collect()
}

/// Steps from one set of settings to another: each passes every check, and no step's description is
/// longer than the unit's row can carry. `None` if the first setting of some step cannot be changed
/// without too many others.
#[must_use]
pub fn steps(
    now: &RawSettings,
    after: &RawSettings,
    longest_note: usize,
) -> Option<Vec<RawSettings>> {
    let mut steps = Vec::new();
    let mut stands = *now;
    while stands != *after {
        let step = step(&stands, after, longest_note)?;
        steps.push(step);
        stands = step;
    }
    Some(steps)
}

/// As many changes as fit, tried from each place on.
fn step(now: &RawSettings, after: &RawSettings, longest_note: usize) -> Option<RawSettings> {
    let wanted: Vec<Key> = changes(now, after).iter().map(|c| c.field.key).collect();
    (0..wanted.len()).find_map(|from| {
        let turned = wanted[from..].iter().chain(&wanted[..from]);
        let mut taken: Vec<Key> = Vec::new();
        for key in turned {
            taken.push(*key);
            if settings_note(now, &with(now, after, &taken)).len() > longest_note {
                taken.pop();
                break;
            }
        }
        relaxed(now, after, taken)
    })
}

/// Leaves out what breaks a relation with what stays behind; `None` if nothing is left.
fn relaxed(now: &RawSettings, after: &RawSettings, mut taken: Vec<Key>) -> Option<RawSettings> {
    while !taken.is_empty() {
        let trial = with(now, after, &taken);
        let Err(problems) = Settings::check(trial) else {
            return Some(trial);
        };
        let broken: Vec<Key> = problems.iter().flat_map(named).collect();
        let before = taken.len();
        taken.retain(|key| !broken.contains(key));
        if taken.len() == before {
            return None;
        }
    }
    None
}

/// The settings a problem names.
fn named(problem: &Problem) -> Vec<Key> {
    match problem {
        Problem::Range(key) => vec![*key],
        Problem::Relation(relation) => relation
            .text
            .split(|c: char| !(c.is_ascii_lowercase() || c == '_'))
            .filter_map(Key::from_name)
            .chain([relation.key])
            .collect(),
    }
}

fn with(now: &RawSettings, after: &RawSettings, keys: &[Key]) -> RawSettings {
    let mut settings = *now;
    for key in keys {
        // Bits of a setting always fit the same setting.
        let _ = settings.set_bits(*key, after.bits(*key));
    }
    settings
}

#[cfg(test)]
mod tests {
    use super::*;
    use controller_core::units::{Celsius, Kelvin};

    /// The longest note of the unit.
    const LONGEST: usize = serial_line::note::LONGEST;

    #[test]
    fn few_changes_are_one_step() {
        let now = RawSettings::DEFAULT;
        let mut after = now;
        after.target = Celsius::from_milli(1_600);
        after.slab_trim = Kelvin::from_milli(-120);
        assert_eq!(steps(&now, &after, LONGEST), Some(vec![after]));
        assert_eq!(steps(&now, &now, LONGEST), Some(vec![]));
        let names: Vec<_> = changes(&now, &after).iter().map(|c| c.field.name).collect();
        assert_eq!(names, ["slab_trim", "target"]);
    }

    /// Every setting a little higher where ranges and relations allow it.
    fn elsewhere(now: &RawSettings) -> RawSettings {
        let mut after = *now;
        for field in Field::all() {
            let mut trial = after;
            let bits = after.bits(field.key);
            for nudged in [bits + 1, bits - 1] {
                if trial.set_bits(field.key, nudged) && Settings::check(trial).is_ok() {
                    after = trial;
                    break;
                }
                trial = after;
            }
        }
        after
    }

    #[test]
    fn many_changes_are_steps_that_all_pass_and_all_fit() {
        let now = RawSettings::DEFAULT;
        let after = elsewhere(&now);
        assert!(
            changes(&now, &after).len() > 40,
            "{}",
            changes(&now, &after).len()
        );
        for (now, after) in [(now, after), (after, now)] {
            for longest in [LONGEST, 120, 60] {
                let steps = steps(&now, &after, longest).expect("a way");
                assert!(steps.len() > 1);
                let mut stands = now;
                for step in &steps {
                    assert!(Settings::check(*step).is_ok());
                    assert!(settings_note(&stands, step).len() <= longest);
                    assert_ne!(*step, stands);
                    stands = *step;
                }
                assert_eq!(stands, after);
            }
        }
    }

    #[test]
    fn settings_tied_together_move_together() {
        // The whole frost ladder a degree up: one at a time from the wrong end would break it.
        let now = RawSettings::DEFAULT;
        let mut after = now;
        let up = Kelvin::from_milli(1_000);
        for place in [
            &mut after.slab_set,
            &mut after.frost_off,
            &mut after.frost_on,
            &mut after.backup_slab,
            &mut after.backup_emergency,
            &mut after.target,
        ] {
            *place = *place + up;
        }
        assert!(
            Settings::check(after).is_ok(),
            "{:?}",
            Settings::check(after)
        );
        for (now, after) in [(now, after), (after, now)] {
            let steps = steps(&now, &after, 40).expect("a way");
            assert!(steps.iter().all(|step| Settings::check(*step).is_ok()));
            assert_eq!(steps.last(), Some(&after));
        }
    }

    #[test]
    fn where_there_is_no_way_none_is_claimed() {
        let mut after = RawSettings::DEFAULT;
        after.target = Celsius::from_milli(1_600);
        assert_eq!(steps(&RawSettings::DEFAULT, &after, 3), None);
    }
}
