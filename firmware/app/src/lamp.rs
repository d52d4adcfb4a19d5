//! Patterns of the status lamp.

/// What the lamp tells.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Pattern {
    /// A short blink every two seconds: all is well.
    Well,
    /// Two short blinks every two seconds: the circulator runs.
    Running,
    /// A second lit, a second dark: wood is wanted.
    Wood,
    /// Fast even blinking: an alarm stands.
    Alarm,
    /// Lit: outputs are held in their fail state until a person comes.
    Held,
    /// An answer to the button: dark for a second, then so many slow blinks, again and again.
    Count(u8),
}

/// Length of one blink of an answer, half of it lit.
const BLINK_MS: u64 = 1_000;
/// Darkness before the blinks of an answer.
const PAUSE_MS: u64 = 2_000;

/// Time in which an answer is told three times.
#[must_use]
pub const fn answer_ms(blinks: u8) -> u64 {
    round_ms(blinks).saturating_mul(3)
}

const fn round_ms(blinks: u8) -> u64 {
    PAUSE_MS.saturating_add(BLINK_MS.saturating_mul(blinks as u64))
}

/// Is the lamp lit at this millisecond? An answer's count from its beginning.
#[must_use]
pub const fn is_lit(pattern: Pattern, millis: u64) -> bool {
    let place = millis % 2_000;
    match pattern {
        Pattern::Well => place < 250,
        Pattern::Running => place < 250 || (place >= 500 && place < 750),
        Pattern::Wood => place < 1_000,
        Pattern::Alarm => place % 500 < 250,
        Pattern::Held => true,
        Pattern::Count(blinks) => {
            // A round is never empty, so the rest is always there.
            match millis.checked_rem(round_ms(blinks)) {
                Some(place) => place >= PAUSE_MS && place % BLINK_MS < BLINK_MS / 2,
                None => false,
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn patterns_can_be_told_apart_at_four_looks_a_second() {
        let seen =
            |pattern| [0, 1, 2, 3, 4, 5, 6, 7].map(|n| is_lit(pattern, 86_400_000 + n * 250));
        let all = [
            Pattern::Well,
            Pattern::Running,
            Pattern::Wood,
            Pattern::Alarm,
            Pattern::Held,
        ]
        .map(seen);
        for (n, one) in all.iter().enumerate() {
            assert!(one.contains(&true));
            assert!(!all[n + 1..].contains(one));
        }
    }

    #[test]
    fn an_answer_is_told_three_times_after_a_pause_each() {
        for blinks in 1..=6 {
            let lit = |n| is_lit(Pattern::Count(blinks), n * 250);
            let looks = answer_ms(blinks) / 250;
            assert!((0..8).all(|n| !lit(n)), "dark first");
            let rises = (1..looks).filter(|n| lit(*n) && !lit(n - 1)).count();
            assert_eq!(rises, 3 * usize::from(blinks));
        }
    }
}
