//! Short forms for the rows of the table; each writes out a [`Key`](super::Key).

/// A physical value at a path of the configuration that is always there.
macro_rules! quantity {
    ($name:literal, $dimension:ident, typical $typical:tt, possible $allowed:tt, $($path:ident).+, $doc:literal) => {
        $crate::files::site::keys::macros::quantity!($name, $dimension, typical $typical, possible $allowed,
            |site| Some(site.$($path).+), |site, value| site.$($path).+ = value, $doc)
    };
    ($name:literal, $dimension:ident, typical $typical:tt, possible $allowed:tt,
     in $($part:ident).+, $($field:ident).+, $doc:literal) => {
        $crate::files::site::keys::macros::quantity!($name, $dimension, typical $typical, possible $allowed,
            |site| site.$($part).+.as_ref().map(|part| part.$($field).+),
            |site, value| if let Some(part) = &mut site.$($part).+ { part.$($field).+ = value; }, $doc)
    };
    ($name:literal, $dimension:ident, typical $typical:tt, possible $allowed:tt, $read:expr, $write:expr, $doc:literal) => {
        $crate::files::site::keys::Key {
            name: $name,
            doc: $doc,
            is_listed: true,
            kind: $crate::files::site::keys::Kind::Quantity {
                dimension: $crate::files::quantity::Dimension::$dimension,
                typical: $typical,
                allowed: $allowed,
                read: $read,
                write: $write,
            },
        }
    };
}

/// Yes or no, given by a reader and a writer.
macro_rules! flag {
    ($name:literal, $read:expr, $write:expr, $doc:literal) => {
        $crate::files::site::keys::Key {
            name: $name,
            doc: $doc,
            is_listed: true,
            kind: $crate::files::site::keys::Kind::Flag {
                read: $read,
                write: $write,
            },
        }
    };
}

/// One word out of a list of pairs (word, value) at a path.
macro_rules! choice {
    ($name:literal, $($path:ident).+, [$(($word:literal, $value:expr)),+ $(,)?], $doc:literal) => {
        $crate::files::site::keys::Key {
            name: $name,
            doc: $doc,
            is_listed: true,
            kind: $crate::files::site::keys::Kind::Choice {
                options: || vec![$($word),+],
                read: |site| [$(($word, $value)),+]
                    .into_iter()
                    .find(|(_, value)| *value == site.$($path).+)
                    .map(|(word, _)| word),
                write: |site, text| {
                    let known = [$(($word, $value)),+].into_iter().find(|(word, _)| *word == text);
                    known.is_some_and(|(_, value)| { site.$($path).+ = value; true })
                },
            },
        }
    };
}

/// A tube size by its standard name at a path.
macro_rules! tube {
    ($name:literal, $($path:ident).+, $doc:literal) => {
        $crate::files::site::keys::Key {
            name: $name,
            doc: $doc,
            is_listed: true,
            kind: $crate::files::site::keys::Kind::Choice {
                options: || $crate::sim::plant::tube::Tube::ALL.iter().map(|tube| tube.name).collect(),
                read: |site| Some(site.$($path).+.name),
                write: |site, text| $crate::sim::plant::tube::Tube::named(text).is_some_and(|tube| { site.$($path).+ = tube; true }),
            },
        }
    };
}

pub(in crate::files::site) use {choice, flag, quantity, tube};
