//! Why: one reason a step, with the reading, limit and age behind it.

use crate::time::Duration;
use crate::units::Celsius;

macro_rules! words {
    ($(#[$doc:meta])* $name:ident { $($(#[$vdoc:meta])* $variant:ident = $word:literal,)* }) => {
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
        #[cfg_attr(feature = "defmt", derive(defmt::Format))]
        pub enum $name { $($(#[$vdoc])* $variant,)* }

        impl Default for $name {
            /// The first.
            fn default() -> Self {
                Self::ALL[0]
            }
        }

        impl $name {
            /// All, in order of rank.
            pub const ALL: [Self; { [$($word),*].len() }] = [$(Self::$variant,)*];

            /// The word in the trace and in reports.
            #[must_use]
            pub const fn name(self) -> &'static str {
                match self { $(Self::$variant => $word,)* }
            }

            /// The one of this word.
            #[must_use]
            pub fn named(name: &str) -> Option<Self> {
                Self::ALL.into_iter().find(|one| one.name() == name)
            }
        }
    };
}
pub(crate) use words;

words! {
    /// What explains the outputs of a step; the first that applies is given.
    Reason {
        /// Waiting after a boot.
        Boot = "boot",
        /// The circuit is empty.
        Drained = "drained",
        /// Overheated water: circulator stopped.
        Overheat = "overheat",
        /// Freezing threatens.
        Frost = "frost",
        /// The boiler is called.
        Backup = "backup",
        /// Store heat is worth the electricity.
        StoreHeat = "store_heat",
        /// Carrying boiler heat out of the pipes.
        PostRun = "post_run",
        /// A person's command.
        Manual = "manual",
        /// Keeping an idle circulator from seizing.
        Exercise = "exercise",
        /// A shortest time has to pass first.
        MinimumTime = "minimum_time",
        /// Heat is wanted, but the store has too little to give.
        NotWorthwhile = "not_worthwhile",
        /// The slab is warm enough.
        WarmEnough = "warm_enough",
    }
}

words! {
    /// The quantity behind a reason. Its unit follows from it.
    What {
        /// Nothing in particular.
        Nothing = "",
        /// Slab reading, °C.
        Slab = "slab_c",
        /// The return as it last moved, which stands for the slab, °C.
        WaterSlab = "water_slab_c",
        /// Supply, °C.
        Supply = "supply_c",
        /// Return, °C.
        Return = "return_c",
        /// Outdoor air now, °C.
        Outdoor = "outdoor_c",
        /// Outdoor mean, °C.
        OutdoorMean = "outdoor_mean_c",
        /// Circulator at rest, min.
        Rest = "rest_min",
        /// Circulator running, min.
        Run = "run_min",
        /// Age of the return water's temperature, min.
        WaterAge = "water_age_min",
        /// Time left, min.
        TimeLeft = "time_left_min",
    }
}

/// The cause behind a reason.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub struct Cause {
    /// Which quantity.
    pub what: What,
    /// Its value, in 1/65536 of its unit.
    pub value: i32,
    /// The limit it was held against, in the same unit.
    pub limit: i32,
    /// Age of the value.
    pub age: Duration,
}

impl Cause {
    /// No particular cause.
    pub const NONE: Self = Self {
        what: What::Nothing,
        value: 0,
        limit: 0,
        age: Duration::ZERO,
    };

    /// A temperature against a limit.
    #[must_use]
    pub const fn point(what: What, value: Celsius, limit: Celsius, age: Duration) -> Self {
        Self {
            what,
            value: value.to_bits(),
            limit: limit.to_bits(),
            age,
        }
    }

    /// A time against a limit, in minutes.
    #[must_use]
    pub fn time(what: What, value: Duration, limit: Duration) -> Self {
        Self {
            what,
            value: value.minutes(),
            limit: limit.minutes(),
            age: Duration::ZERO,
        }
    }
}
