//! This fit against an earlier one: what has changed beyond both ranges. The earlier ranges stand in the comments of its site file.

use super::written::{Change, MARK, RANGE};
use crate::files::quantity;

/// A value then and now, in the key's base unit.
#[derive(Clone, Debug, PartialEq)]
pub struct Compared {
    /// The key.
    pub key: &'static str,
    /// The middle of the range then, and its half.
    pub then: (f64, f64),
    /// The value now, and half of its range.
    pub now: (f64, f64),
}

impl Compared {
    /// Whether they differ by more than both ranges allow; halves of independent ranges add up by squares.
    #[must_use]
    pub fn has_changed(&self) -> bool {
        (self.now.0 - self.then.0).abs() > self.then.1.hypot(self.now.1)
    }
}

/// Compares with the site file of an earlier fit; keys that it did not fit are left out.
#[must_use]
pub fn compare(earlier: &str, changes: &[Change]) -> Vec<Compared> {
    let mut section = "";
    let mut range: Option<&str> = None;
    let mut found = Vec::new();
    for line in earlier.lines().map(str::trim) {
        if let Some(name) = line.strip_prefix('[') {
            section = name.split(']').next().unwrap_or("").trim();
            range = None;
        } else if line.starts_with(MARK) {
            range = line
                .split_once(RANGE)
                .map(|(_, range)| range.trim_end_matches('.'));
        } else if let (Some(text), Some((name, _))) = (range, line.split_once('=')) {
            let name = name.trim();
            let is_of = |change: &&Change| {
                change.known && change.key.split_once('.') == Some((section, name))
            };
            if let Some(change) = changes.iter().find(is_of) {
                found.extend(compared(text, change));
            }
            range = None;
        }
    }
    found
}

fn compared(range: &str, change: &Change) -> Option<Compared> {
    let (low, high) = range.split_once(" to ")?;
    let number = |text: &str| quantity::parse(text, change.dimension).ok();
    let (low, high) = (number(low)?, number(high)?);
    Some(Compared {
        key: change.key,
        then: (0.5 * (low + high), 0.5 * (high - low)),
        now: (change.new, 0.5 * (change.range.1 - change.range.0)),
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::files::quantity::Dimension;

    fn glazing(new: f64, half: f64) -> [Change; 1] {
        [Change {
            index: 0,
            key: "house.glazing_u_value",
            dimension: Dimension::HeatLossCoefficient,
            old: 3.4,
            new,
            range: (new - half, new + half),
            known: true,
        }]
    }

    #[test]
    fn a_change_counts_beyond_both_ranges() {
        let earlier = "[house]\n# Fitted from 21 nights of 2025-12-01 to 2025-12-28: was 3.4 W/m²K; 9 of 10: 3.3 W/m²K to 3.7 W/m²K.\n\
                       glazing_u_value = \"3.5 W/m²K\"\nair_changes = \"1 1/h\"\n";
        let of = |new, half| compare(earlier, &glazing(new, half));
        assert_eq!(of(3.6, 0.2).len(), 1);
        assert!(!of(3.6, 0.2)[0].has_changed());
        // 0.5 apart, halves 0.2 and 0.3: 0.36.
        assert!(of(4.0, 0.3)[0].has_changed());
        assert!(
            compare(
                "[house]\nglazing_u_value = \"3.5 W/m²K\"\n",
                &glazing(4.0, 0.1)
            )
            .is_empty()
        );
    }
}
