//! Which coils to buy: each circuit from one coil, since no joint belongs into concrete.

use serde::Serialize;

/// More circuits than this get a coil each: all ways to share coils are not tried.
const MOST_SHARED: usize = 10;

/// A coil and the circuits that are cut from it.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Coil {
    /// Its length, m.
    pub length_m: f64,
    /// Numbers of the circuits, from 1.
    pub circuits: Vec<usize>,
    /// What is left, m.
    pub left_m: f64,
}

/// The coils with the least tube in all, the fewer of those alike; `None` where a circuit needs more than the longest. All lengths m.
pub(super) fn choose(needed_m: &[f64], sold_m: &[f64]) -> Option<Vec<Coil>> {
    let coil = |circuits: Vec<usize>| {
        let used_m: f64 = circuits.iter().map(|circuit| needed_m[*circuit]).sum();
        let length_m = sold_m
            .iter()
            .copied()
            .filter(|length| *length >= used_m)
            .min_by(f64::total_cmp)?;
        let circuits = circuits.into_iter().map(|circuit| circuit + 1).collect();
        Some(Coil {
            length_m,
            circuits,
            left_m: length_m - used_m,
        })
    };
    if needed_m.len() > MOST_SHARED {
        return (0..needed_m.len())
            .map(|circuit| coil(vec![circuit]))
            .collect();
    }
    let members = |set: usize| {
        (0..needed_m.len())
            .filter(move |circuit| set & (1 << circuit) != 0)
            .collect::<Vec<_>>()
    };
    // For each set of circuits the best coils: a coil for a part with its first circuit, and the best for the rest.
    let sets = 1_usize << needed_m.len();
    let mut best: Vec<Option<(f64, Vec<Coil>)>> = vec![None; sets];
    best[0] = Some((0.0, Vec::new()));
    for set in 1..sets {
        let first = set & set.wrapping_neg();
        let mut part = set;
        while part > 0 {
            if part & first != 0
                && let (Some(coil), Some((rest_m, rest))) =
                    (coil(members(part)), best[set ^ part].clone())
            {
                let total_m = rest_m + coil.length_m;
                let better = best[set].as_ref().is_none_or(|(known_m, known)| {
                    total_m < known_m - 1e-9
                        || (total_m < known_m + 1e-9 && rest.len() + 1 < known.len())
                });
                if better {
                    best[set] = Some((total_m, [vec![coil], rest].concat()));
                }
            }
            part = (part - 1) & set;
        }
    }
    best.pop().flatten().map(|(_, coils)| coils)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_least_tube_is_bought_and_nothing_is_joined() {
        let sold = [50.0, 100.0, 120.0, 200.0, 240.0];
        // Two of 58 m: one coil of 120 m, not two of 100 m.
        let coils = choose(&[58.0, 58.0], &sold).expect("coils");
        assert_eq!(coils.len(), 1);
        assert_eq!(coils[0].length_m, 120.0);
        assert_eq!(coils[0].circuits, [1, 2]);
        assert!((coils[0].left_m - 4.0).abs() < 1e-9);
        // 88 and 45 m: 100 and 50 m, not 200 m.
        let coils = choose(&[88.0, 45.0], &sold).expect("coils");
        assert_eq!(coils.iter().map(|coil| coil.length_m).sum::<f64>(), 150.0);
        assert_eq!(choose(&[241.0], &sold), None);
        assert_eq!(choose(&[90.0; 12], &sold).expect("coils").len(), 12);
    }
}
