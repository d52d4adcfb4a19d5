//! The table of settings: one line each with unit (by type), default, range and meaning.

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
    /// No heating wanted; frost rules stay, banking is possible.
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

/// One setting's description.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Field {
    /// Which setting.
    pub key: Key,
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
    ($($key:ident $name:ident: $ty:ident = $default:expr, $min:expr, $max:expr, $doc:literal;)*) => {
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
const fn rate(milli: i32) -> KelvinPerHour {
    KelvinPerHour::from_milli(milli)
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
    Mode mode: Mode = Mode::Winter, Mode::Winter, Mode::Commissioning,
        "What the house is used for: winter, summer, drained or commissioning.";
    SensorCycle sensor_cycle: Duration = secs(10), secs(1), secs(20),
        "Time between sensor reads.";
    StaleSuspect stale_suspect: Duration = secs(60), secs(30), secs(120),
        "A reading this old is doubted; at least three sensor cycles.";
    StaleBad stale_bad: Duration = secs(300), secs(120), secs(900),
        "A reading this old is lost.";
    SupplyTrim supply_trim: Kelvin = k(0), k(-1_000), k(1_000),
        "Added to the supply reading; from an ice bath or the pair trim.";
    ReturnTrim return_trim: Kelvin = k(0), k(-1_000), k(1_000),
        "Added to the return reading.";
    SlabTrim slab_trim: Kelvin = k(0), k(-1_000), k(1_000),
        "Added to the slab reading.";
    OutdoorTrim outdoor_trim: Kelvin = k(0), k(-1_000), k(1_000),
        "Added to the outdoor reading.";

    Target target: Celsius = c(1_500), c(500), c(4_500),
        "The slab temperature that must hold; reported against, never controlled to.";
    SlabSet slab_set: Celsius = c(4_000), c(2_500), c(12_000),
        "Centre of the slab band: target plus sensor error, half band, cold edge and preload.";
    SlabBand slab_band: Kelvin = k(1_000), k(400), k(3_000),
        "Whole width of the slab band: wider means fewer starts and a deeper dip.";
    OutdoorTime outdoor_time: Duration = hours(12), hours(4), hours(48),
        "Time constant of the outdoor mean; a slab answers in 7 to 14 h.";
    ResetGain reset_gain: Ratio = ratio(100), ratio(0), ratio(300),
        "Kelvin of slab set per kelvin of outdoor mean below reset_start.";
    ResetStart reset_start: Celsius = c(-2_000), c(-10_000), c(5_000),
        "Outdoor mean below which the slab set is raised.";
    ResetMax reset_max: Kelvin = k(2_000), k(0), k(4_000),
        "Most the slab set is raised.";
    SlopeWindow slope_window: Duration = hours(2), hours(1), hours(6),
        "Stretch over which the slab's slope is measured.";
    Horizon horizon: Duration = hours(4), hours(0), hours(12),
        "How far the slab is predicted ahead; 0 h turns looking ahead off.";

    StartDifference start_difference: Kelvin = k(1_500), k(1_000), k(6_000),
        "Store above slab at which a run is worth starting.";
    StopDifference stop_difference: Kelvin = k(800), k(400), k(2_000),
        "Supply less return below which a run is not worth going on.";
    HeatRatio heat_ratio: Ratio = ratio(3_000), ratio(1_500), ratio(10_000),
        "Least heat per electricity a run must earn.";
    Flow flow: MillilitresPerSecond = MillilitresPerSecond::from_milli(60_000),
        MillilitresPerSecond::from_milli(5_000), MillilitresPerSecond::from_milli(1_000_000),
        "Water moved by the circulator, measured or computed.";
    SpecificHeat specific_heat: JoulesPerKilogramKelvin = JoulesPerKilogramKelvin::from_milli(4_200_000),
        JoulesPerKilogramKelvin::from_milli(3_000_000), JoulesPerKilogramKelvin::from_milli(4_250_000),
        "Of the fluid: water 4200, 30 % propylene glycol about 3820 J/kgK.";
    PumpPower pump_power: Watts = Watts::from_milli(45_000),
        Watts::from_milli(3_000), Watts::from_milli(500_000),
        "Electric power of the circulator.";
    Purge purge: Duration = mins(8), mins(3), mins(20),
        "Run time before pipe sensors read the water: twice the transit, or transit and three sensor time constants.";
    Transit transit: Duration = secs(162), secs(10), secs(900),
        "Time the water takes through the longer floor's tube.";
    LoopYield loop_yield: Ratio = ratio(690), ratio(100), ratio(950),
        "First guess of (supply - return) / (supply - slab), from the PC; 0.55 if unknown; learned while running.";
    SampleInterval sample_interval: Duration = hours(2), mins(30), hours(12),
        "Age of the store temperature at which a sampling run is made when heat is wanted.";
    SampleIntervalMax sample_interval_max: Duration = hours(12), mins(30), hours(24),
        "Longest sampling interval the back-off reaches.";
    StorePrior store_prior: Celsius = c(8_000), c(4_000), c(12_000),
        "What the store is believed to be with nothing measured.";
    DoubtRate doubt_rate: KelvinPerHour = rate(50), rate(0), rate(500),
        "How fast a remembered store temperature is doubted, and drifts to the prior.";

    PumpMinOn pump_min_on: Duration = mins(15), mins(5), mins(60),
        "Shortest circulator run.";
    PumpMinOff pump_min_off: Duration = mins(10), mins(3), mins(30),
        "Shortest circulator rest.";
    FrostMinOff frost_min_off: Duration = secs(60), secs(30), secs(180),
        "Shortest circulator rest when freezing threatens.";
    PumpStarts pump_starts: u8 = 4, 2, 8,
        "Circulator starts in any hour; never refused to frost.";
    PostRun post_run: Duration = mins(5), mins(2), mins(15),
        "Circulator overrun after boiler heat.";
    ExerciseRun exercise_run: Duration = mins(2), secs(30), mins(5),
        "Length of the run that keeps an idle circulator from seizing.";
    ExerciseInterval exercise_interval: Duration = hours(168), hours(72), hours(336),
        "Rest after which the circulator is exercised.";

    Boiler boiler: BoilerKind = BoilerKind::Firing, BoilerKind::None, BoilerKind::Injection,
        "What the backup call does: none, firing (a fire or burner) or injection (a valve on a hot jacket).";
    FiringMinOn firing_min_on: Duration = mins(30), mins(15), mins(120),
        "Shortest call of a firing boiler.";
    FiringMinOff firing_min_off: Duration = mins(30), mins(15), mins(120),
        "Shortest rest of a firing boiler.";
    InjectionMinOn injection_min_on: Duration = mins(3), mins(2), mins(15),
        "Shortest injection.";
    InjectionMinOff injection_min_off: Duration = mins(5), mins(2), mins(15),
        "Shortest rest between injections.";
    InjectionPeriod injection_period: Duration = mins(20), mins(10), mins(60),
        "Period over which an injection's share of on-time is counted.";
    BackupSlab backup_slab: Celsius = c(2_200), c(1_900), c(8_000),
        "Slab at which backup may be called if the loop is not holding it.";
    BackupEmergency backup_emergency: Celsius = c(1_800), c(1_700), c(5_000),
        "Slab at which backup is called as soon as the water has been purged.";
    BackupOutdoor backup_outdoor: Celsius = c(-6_000), c(-20_000), c(0),
        "Outdoor mean below which backup may be called under the slab band, if the loop is not holding.";
    HoldingTime holding_time: Duration = mins(60), mins(30), mins(240),
        "Run time before the loop can be said not to hold the slab.";
    HoldingSlope holding_slope: KelvinPerHour = rate(50), rate(-200), rate(200),
        "Slab slope below which the loop is not holding.";
    SupplyTarget supply_target: Celsius = c(35_000), c(25_000), c(45_000),
        "Supply temperature an injection aims for.";
    SupplySoft supply_soft: Celsius = c(40_000), c(30_000), c(50_000),
        "Supply temperature that ends a call.";
    SupplyTrip supply_trip: Celsius = c(50_000), c(45_000), c(60_000),
        "Supply temperature that also stops the circulator, if corroborated.";
    HardLimit hard_limit: Celsius = c(60_000), c(50_000), c(65_000),
        "Where the independent hard-wired limit is set.";
    HardLimitTested hard_limit_tested: bool = false, false, true,
        "Owner's word that an independent manual-reset limit is fitted and was tested this season.";
    SupplySlabMax supply_slab_max: Kelvin = k(25_000), k(10_000), k(35_000),
        "Supply above slab at which no new call starts while the slab is rising fast.";
    SlabRiseMax slab_rise_max: KelvinPerHour = rate(3_000), rate(1_000), rate(5_000),
        "Slab rise above which no new call starts.";
    SlabMax slab_max: Celsius = c(25_000), c(10_000), c(29_000),
        "Slab temperature that ends a call; EN 1264 allows 29 °C at the surface.";
    ReturnCap return_cap: Celsius = c(15_000), c(8_000), c(20_000),
        "Return to the store that ends a call; at most 10 °C counts over a food store.";
    ReturnToStore return_to_store: bool = false, false, true,
        "Boiler return passes the store (series piping); no if a bypass valve opens with the call.";
    ProofTime proof_time: Duration = mins(20), mins(10), mins(45),
        "Time in which a call must show heat.";
    BlindDuty blind_duty: Duration = mins(0), mins(0), mins(10),
        "Boiler minutes an hour with every sensor lost; needs a tested hard limit.";

    StoreLow store_low: Celsius = c(4_500), c(3_000), c(7_000),
        "Store temperature below which it is left to recover.";
    StoreFloor store_floor: Celsius = c(2_000), c(1_000), c(4_000),
        "Store temperature that raises the alarm.";
    StoreDraw store_draw: KilowattHours = KilowattHours::from_milli(30_000),
        KilowattHours::from_milli(0), KilowattHours::from_milli(100_000),
        "Heat drawn in a day that is worth a word; 0 turns it off.";
    CellarStorage cellar_storage: bool = true, false, true,
        "The store keeps food: no warm water into it.";
    Bank bank: bool = false, false, true,
        "Put surplus slab heat into the store in summer mode.";
    BankCap bank_cap: Celsius = c(15_000), c(8_000), c(20_000),
        "Return to the store that ends banking; at most 10 °C counts over a food store.";

    FrostOn frost_on: Celsius = c(2_200), c(1_500), c(5_000),
        "Slab at which the circulator runs against frost.";
    FrostOff frost_off: Celsius = c(3_000), c(1_600), c(6_000),
        "Slab at which a frost run may end.";
    PipeOn pipe_on: Celsius = c(3_000), c(-25_000), c(7_000),
        "Water at rest at which the circulator runs while it is colder than 1 °C outdoors; 1 K lower in any weather.";
    PipeOff pipe_off: Celsius = c(4_000), c(-24_000), c(8_000),
        "Supply, after the purge, at which a pipe frost run may end.";
    ExposedTime exposed_time: Duration = mins(0), mins(0), hours(10),
        "Cooling time constant of a run through open air, from the PC; 0 if there is none.";

    ManualTime manual_time: Duration = mins(30), mins(1), mins(120),
        "After this a manual command ends by itself.";
}
