//! Patterns of the status lamp.

/// What the lamp tells.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Pattern {
    /// A short blink every two seconds: all is well.
    Well,
    /// Two short blinks every two seconds: the circulator runs.
    Running,
    /// Fast even blinking: an alarm stands.
    Alarm,
    /// Lit: outputs are held in their fail state until a person comes.
    Held,
}

/// Is the lamp lit at this millisecond?
#[must_use]
pub const fn is_lit(pattern: Pattern, millis: u64) -> bool {
    let place = millis % 2_000;
    match pattern {
        Pattern::Well => place < 250,
        Pattern::Running => place < 250 || (place >= 500 && place < 750),
        Pattern::Alarm => place % 500 < 250,
        Pattern::Held => true,
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
            Pattern::Alarm,
            Pattern::Held,
        ]
        .map(seen);
        for (n, one) in all.iter().enumerate() {
            assert!(one.contains(&true));
            assert!(!all[n + 1..].contains(one));
        }
    }
}
