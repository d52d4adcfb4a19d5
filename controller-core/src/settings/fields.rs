//! The table of settings: one line each with group, name, unit (by type), default, range and meaning.

use crate::time::Duration;
use crate::units::{
    Celsius, JoulesPerKilogramKelvin, Kelvin, KelvinPerHour, KilowattHours, MillilitresPerSecond,
    Ratio, Watts,
};

/// What the backup boiler's call does.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum BoilerKind {
    /// There is no backup.
    None,
    /// The call starts a fire, draft fan or burner.
    Firing,
    /// The call opens a valve or starts a pump on a hot jacket.
    Injection,
}

/// What the house is being used for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Mode {
    /// Slab held above its set temperature; the usual one.
    Winter,
    /// No heating wanted; frost rules stay.
    Summer,
    /// The circuit is empty: the circulator never runs.
    Drained,
    /// New concrete: as winter, with a low supply limit.
    Commissioning,
}

/// How a setting's number is to be read.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    /// A point, °C.
    Temperature,
    /// A difference, K.
    Difference,
    /// A rate, K/h.
    Rate,
    /// A time.
    Time,
    /// A plain number.
    Ratio,
    /// mL/s.
    Flow,
    /// J/(kg K).
    SpecificHeat,
    /// W.
    Power,
    /// kWh.
    Energy,
    /// A whole number.
    Count,
    /// Yes or no.
    Switch,
    /// One of these words, by position.
    Choice(&'static [&'static str]),
}

/// A type a setting can have: it goes to and from 32 bits.
trait Scalar: Copy {
    const KIND: Kind;
    fn bits(self) -> i32;
    fn from_bits(bits: i32) -> Option<Self>;
}

macro_rules! scalar_quantity {
    ($($name:ident => $kind:ident),*) => {$(
        impl Scalar for $name {
            const KIND: Kind = Kind::$kind;
            fn bits(self) -> i32 { self.to_bits() }
            fn from_bits(bits: i32) -> Option<Self> { Some(Self::from_bits(bits)) }
        }
    )*};
}
scalar_quantity!(
    Celsius => Temperature, Kelvin => Difference, KelvinPerHour => Rate, Ratio => Ratio,
    MillilitresPerSecond => Flow, JoulesPerKilogramKelvin => SpecificHeat, Watts => Power,
    KilowattHours => Energy
);

impl Scalar for Duration {
    const KIND: Kind = Kind::Time;
    fn bits(self) -> i32 {
        i32::try_from(self.as_millis()).unwrap_or(i32::MAX)
    }
    fn from_bits(bits: i32) -> Option<Self> {
        u32::try_from(bits).ok().map(Self::from_millis)
    }
}

impl Scalar for u8 {
    const KIND: Kind = Kind::Count;
    fn bits(self) -> i32 {
        i32::from(self)
    }
    fn from_bits(bits: i32) -> Option<Self> {
        Self::try_from(bits).ok()
    }
}

impl Scalar for bool {
    const KIND: Kind = Kind::Switch;
    fn bits(self) -> i32 {
        i32::from(self)
    }
    fn from_bits(bits: i32) -> Option<Self> {
        match bits {
            0 => Some(false),
            1 => Some(true),
            _ => None,
        }
    }
}

impl Scalar for BoilerKind {
    const KIND: Kind = Kind::Choice(&["none", "firing", "injection"]);
    fn bits(self) -> i32 {
        self as i32
    }
    fn from_bits(bits: i32) -> Option<Self> {
        match bits {
            0 => Some(Self::None),
            1 => Some(Self::Firing),
            2 => Some(Self::Injection),
            _ => None,
        }
    }
}

impl Mode {
    /// Every mode, in the order of the settings file's words.
    pub const ALL: [Self; 4] = [
        Self::Winter,
        Self::Summer,
        Self::Drained,
        Self::Commissioning,
    ];

    /// The word for this mode in files and on the serial line.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Winter => "winter",
            Self::Summer => "summer",
            Self::Drained => "drained",
            Self::Commissioning => "commissioning",
        }
    }
}

impl Scalar for Mode {
    const KIND: Kind = Kind::Choice(&["winter", "summer", "drained", "commissioning"]);
    fn bits(self) -> i32 {
        self as i32
    }
    fn from_bits(bits: i32) -> Option<Self> {
        let index = usize::try_from(bits).ok()?;
        Self::ALL.get(index).copied()
    }
}

/// Whose a setting is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Group {
    /// The owner's choice: what the house is to hold, and what stands in it.
    Yours,
    /// Measured or computed of this house, its loop, boiler and sensors; `host-sim size` writes these.
    Measured,
    /// Fine adjustment of the run, for who knows why.
    Expert,
    /// Limits and times that protect people, slab and machines; no search for better settings changes one.
    Protects,
}

impl Group {
    /// All, in the order of the settings file.
    pub const ALL: [Self; 4] = [Self::Yours, Self::Measured, Self::Expert, Self::Protects];
}

/// One setting's description.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Field {
    /// Which setting.
    pub key: Key,
    /// Whose it is.
    pub group: Group,
    /// Its name in files, on the serial line and in messages.
    pub name: &'static str,
    /// What it does, with the evidence for its default.
    pub doc: &'static str,
    /// How its 32 bits are read.
    pub kind: Kind,
    /// Smallest allowed value, as bits.
    pub min: i32,
    /// Largest allowed value, as bits.
    pub max: i32,
}

macro_rules! settings {
    ($($group:ident $key:ident $name:ident: $ty:ident = $default:expr, $min:expr, $max:expr, $doc:literal;)*) => {
        /// Settings as given, not yet checked. See each field's line for meaning and range.
        #[derive(Clone, Copy, Debug, PartialEq, Eq)]
        pub struct RawSettings {
            $(#[doc = $doc] pub $name: $ty,)*
        }

        /// Names one setting.
        #[derive(Clone, Copy, Debug, PartialEq, Eq)]
        #[cfg_attr(feature = "defmt", derive(defmt::Format))]
        pub enum Key { $(#[doc = $doc] $key,)* }

        impl RawSettings {
            /// The demonstration site's settings.
            pub const DEFAULT: Self = Self { $($name: $default,)* };

            /// A setting's value as 32 bits, read by its [`Kind`].
            #[must_use]
            pub fn bits(&self, key: Key) -> i32 {
                match key { $(Key::$key => Scalar::bits(self.$name),)* }
            }

            /// Puts a value; `false` (and nothing changed) if the bits mean nothing for the kind.
            #[must_use]
            pub fn set_bits(&mut self, key: Key, bits: i32) -> bool {
                match key { $(Key::$key => match Scalar::from_bits(bits) {
                    Some(value) => { self.$name = value; true }
                    None => false,
                },)* }
            }
        }

        impl Field {
            pub(super) const ALL: &'static [Self; { [$(stringify!($name)),*].len() }] = &[$(Self {
                key: Key::$key,
                group: Group::$group,
                name: stringify!($name),
                doc: $doc,
                kind: <$ty as Scalar>::KIND,
                min: const_bits!($ty $min),
                max: const_bits!($ty $max),
            },)*];
        }
    };
}

impl Field {
    /// Every setting, in the order of the settings file.
    #[must_use]
    pub const fn all() -> &'static [Self] {
        Self::ALL
    }
}

/// A value's 32 bits, worked out while compiling.
macro_rules! const_bits {
    (Duration $value:expr) => {
        $value.as_millis() as i32
    };
    (u8 $value:expr) => {
        $value as i32
    };
    (bool $value:expr) => {
        $value as i32
    };
    (Mode $value:expr) => {
        $value as i32
    };
    (BoilerKind $value:expr) => {
        $value as i32
    };
    ($quantity:ident $value:expr) => {
        $value.to_bits()
    };
}

const fn c(milli: i32) -> Celsius {
    Celsius::from_milli(milli)
}
const fn k(milli: i32) -> Kelvin {
    Kelvin::from_milli(milli)
}
const fn ratio(milli: i32) -> Ratio {
    Ratio::from_milli(milli)
}
const fn secs(n: u32) -> Duration {
    Duration::from_secs(n)
}
const fn mins(n: u32) -> Duration {
    Duration::from_mins(n)
}
const fn hours(n: u32) -> Duration {
    Duration::from_hours(n)
}

settings! {
    Yours Mode mode: Mode = Mode::Winter, Mode::Winter, Mode::Commissioning,
        "What the house is used for: winter, summer, drained or commissioning.";
    Expert SensorCycle sensor_cycle: Duration = secs(10), secs(1), secs(20),
        "Time between sensor reads.";
    Measured SupplyTrim supply_trim: Kelvin = k(0), k(-1_000), k(1_000),
        "Added to the supply reading; from an ice bath or the pair trim.";
    Measured ReturnTrim return_trim: Kelvin = k(0), k(-1_000), k(1_000),
        "Added to the return reading.";
    Measured SlabTrim slab_trim: Kelvin = k(0), k(-1_000), k(1_000),
        "Added to the slab reading.";
    Measured OutdoorTrim outdoor_trim: Kelvin = k(0), k(-1_000), k(1_000),
        "Added to the outdoor reading.";

    Yours Target target: Celsius = c(1_500), c(500), c(4_500),
        "The slab temperature that must hold; reported against, never controlled to.";
    Yours SlabSet slab_set: Celsius = c(4_000), c(2_500), c(12_000),
        "Centre of the slab band: target plus sensor error, half band, cold edge and preload.";
    Yours SlabBand slab_band: Kelvin = k(1_000), k(400), k(3_000),
        "Whole width of the slab band: wider means fewer starts and a deeper dip.";

    Expert StartDifference start_difference: Kelvin = k(1_500), k(1_000), k(6_000),
        "Supply above slab at which a run is worth starting.";
    Expert StopDifference stop_difference: Kelvin = k(800), k(400), k(2_000),
        "Supply above slab below which a run is not worth going on.";
    Measured Flow flow: MillilitresPerSecond = MillilitresPerSecond::from_milli(60_000),
        MillilitresPerSecond::from_milli(5_000), MillilitresPerSecond::from_milli(1_000_000),
        "Water moved by the circulator, measured or computed.";
    Measured SpecificHeat specific_heat: JoulesPerKilogramKelvin = JoulesPerKilogramKelvin::from_milli(4_200_000),
        JoulesPerKilogramKelvin::from_milli(3_000_000), JoulesPerKilogramKelvin::from_milli(4_250_000),
        "Of the fluid: water 4200, 30 % propylene glycol about 3820 J/kgK.";
    Measured PumpPower pump_power: Watts = Watts::from_milli(45_000),
        Watts::from_milli(3_000), Watts::from_milli(500_000),
        "Electric power of the circulator.";
    Measured SettlingTime settling_time: Duration = mins(8), mins(3), mins(20),
        "Run time before pipe sensors read the water: twice the transit, or transit and three sensor time constants.";
    Measured Transit transit: Duration = secs(162), secs(10), secs(900),
        "Time the water takes through the longer floor's tube.";
    Measured LoopEffectiveness loop_effectiveness: Ratio = ratio(690), ratio(100), ratio(950),
        "(supply - return) / (supply - slab) of running water, from the PC; 0.55 if unknown.";

    Protects PumpMinOn pump_min_on: Duration = mins(15), mins(5), mins(60),
        "Shortest circulator run.";
    Protects PumpMinOff pump_min_off: Duration = mins(10), mins(3), mins(30),
        "Shortest circulator rest.";
    Protects FrostMinOff frost_min_off: Duration = secs(60), secs(30), secs(180),
        "Shortest circulator rest when freezing threatens.";
    Protects PumpStarts pump_starts: u8 = 4, 2, 8,
        "Circulator starts in any hour; never refused to frost.";
    Protects PostRun post_run: Duration = mins(5), mins(2), mins(15),
        "Circulator overrun after boiler heat.";
    Expert ExerciseInterval exercise_interval: Duration = hours(168), hours(72), hours(336),
        "Rest after which the circulator is exercised.";

    Yours Boiler boiler: BoilerKind = BoilerKind::Firing, BoilerKind::None, BoilerKind::Injection,
        "What the backup call does: none, firing (a fire or burner) or injection (a valve on a hot jacket).";
    Protects FiringMinOn firing_min_on: Duration = mins(30), mins(15), mins(120),
        "Shortest call of a firing boiler.";
    Protects FiringMinOff firing_min_off: Duration = mins(30), mins(15), mins(120),
        "Shortest rest of a firing boiler.";
    Protects InjectionMinOn injection_min_on: Duration = mins(3), mins(2), mins(15),
        "Shortest injection.";
    Protects InjectionMinOff injection_min_off: Duration = mins(5), mins(2), mins(15),
        "Shortest rest between injections.";
    Yours BackupSlab backup_slab: Celsius = c(2_500), c(1_900), c(8_000),
        "Slab at which backup is called, until it is 1 K warmer.";
    Protects BackupEmergency backup_emergency: Celsius = c(1_800), c(1_000), c(5_000),
        "Slab so cold that a limit halves a call instead of ending it.";
    Yours SupplyLimited supply_limited: bool = true, false, true,
        "The owner confirms that a mixing valve or a tested manual-reset limit keeps the water to the slab below 50 °C by itself.";
    Protects SupplySoft supply_soft: Celsius = c(40_000), c(30_000), c(50_000),
        "Supply temperature that ends a call.";
    Protects SupplyTrip supply_trip: Celsius = c(50_000), c(45_000), c(60_000),
        "Supply temperature that also stops the circulator, if corroborated.";
    Protects SlabMax slab_max: Celsius = c(25_000), c(10_000), c(29_000),
        "Slab and return temperature that end a call together, or one alone with the other lost; EN 1264 allows 29 °C at the surface.";
    Protects ReturnCap return_cap: Celsius = c(10_000), c(8_000), c(20_000),
        "Return to the store that ends a call, where it passes the store; at most 10 °C over a food store.";
    Measured ReturnToStore return_to_store: bool = false, false, true,
        "Boiler return passes the store (series piping); no if a bypass valve opens with the call.";
    Protects ProofTime proof_time: Duration = mins(20), mins(10), mins(45),
        "Time in which a call must show heat.";
    Measured WoodRise wood_rise: Kelvin = k(1_100), k(20), k(4_000),
        "Rise of the slab by a kilogram of wood, what the boiler loses taken off; measured, or from the PC.";
    Measured WoodMost wood_most: u8 = 25, 0, 200,
        "Most wood that fits into the boiler, kg; 0 if nobody feeds it by hand, and nothing is said of wood.";

    Protects StoreAlarm store_alarm: Celsius = c(2_000), c(1_000), c(4_000),
        "Store temperature that raises the alarm.";

    Protects FrostOn frost_on: Celsius = c(2_200), c(1_500), c(5_000),
        "Slab at which the circulator runs against frost.";
    Protects FrostOff frost_off: Celsius = c(3_000), c(1_600), c(6_000),
        "Slab at which a frost run may end.";
    Protects PipeOn pipe_on: Celsius = c(3_000), c(-25_000), c(7_000),
        "Pipe water at which the circulator runs while it is colder than 1 °C outdoors; 1 K lower in any weather.";
    Protects PipeOff pipe_off: Celsius = c(4_000), c(-24_000), c(8_000),
        "Pipe water at which a pipe frost run may end.";
    Measured ExposedTime exposed_time: Duration = mins(0), mins(0), hours(10),
        "Cooling time constant of a run through open air, from the PC; 0 if there is none.";

    Expert ManualTime manual_time: Duration = mins(30), mins(1), mins(120),
        "After this a manual command ends by itself.";
}
