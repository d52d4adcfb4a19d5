//! Two controllers with one past and one difference.

use controller_core::restart::Restart;
use controller_core::sensor::{ReadFault, Sample, Sensor, Trust};
use controller_core::settings::Settings;
use controller_core::time::{Duration, Instant};
use controller_core::units::{Celsius, Kelvin};
use proptest::prelude::*;

use crate::config;
use crate::life::{Alive, Happens, Stretch, life, settings};

const START: Instant = Instant::from_millis(5_000);

fn shifted(sample: Sample, by: i16) -> Sample {
    match sample {
        Sample::Framed(t) => Sample::Framed(Celsius::from_128ths(t.to_128ths().saturating_add(by))),
        Sample::Value(t) => Sample::Value(Celsius::from_128ths(t.to_128ths().saturating_add(by))),
        failed => failed,
    }
}

fn lived(settings: &controller_core::settings::Settings, life: &[crate::life::Stretch]) -> Alive {
    let mut alive = Alive::born(settings, Restart::ORDINARY, START);
    for stretch in life {
        alive.live(stretch, |_, _| {});
    }
    alive
}

/// The same life, without new settings.
fn unchanged(life: &[Stretch]) -> Vec<Stretch> {
    let mut life = life.to_vec();
    for stretch in &mut life {
        if matches!(stretch.happens, Happens::Settings(_)) {
            stretch.happens = Happens::Nothing;
        }
    }
    life
}

proptest! {
    #![proptest_config(config(120))]

    /// A colder slab reading, all else equal, never stops circulation against frost, unless it
    /// bears out that the supply is overheated, or jumps and is lost in mild weather.
    #[test]
    fn a_colder_slab_never_ends_a_frost_run(
        settings in settings(),
        life in life(20),
        colder in 1_i16..600,
        steps in 1_u8..30,
    ) {
        let mut one = lived(&settings, &life);
        let mut other = one.clone();
        other.samples.slab = shifted(other.samples.slab, -colder);
        // Still a temperature that a slab can have.
        prop_assume!(other.samples.slab.value().is_some_and(|t| t > Celsius::from_milli(-20_000)));
        for _ in 0..steps {
            let warm = one.step(Duration::ZERO, None, None);
            let cold = other.step(Duration::ZERO, None, None);
            let trusted = warm.row.readings.slab.trust == Trust::Good;
            let mild = cold.row.estimate.outdoor_mean.is_some_and(|t| t >= Celsius::from_milli(5_000));
            if trusted
                && !(mild && cold.row.readings.slab.is_lost())
                && !cold.row.summary.tripped
                && warm.row.summary.frost.is_some() && warm.outputs.circulator
                && warm.row.reason.name() == "frost"
            {
                prop_assert!(cold.outputs.circulator, "{:?} but {:?}", warm.row.reason, cold.row.reason);
            }
        }
    }

    /// A warmer supply, all else equal, never calls the boiler while the slab is read.
    #[test]
    fn a_warmer_supply_never_calls_the_boiler(
        settings in settings(),
        life in life(20),
        warmer in 1_i16..6_000,
        steps in 1_u8..30,
    ) {
        let mut one = lived(&settings, &life);
        let mut other = one.clone();
        other.samples.supply = shifted(other.samples.supply, warmer);
        for _ in 0..steps {
            let cool = one.step(Duration::ZERO, None, None);
            let warm = other.step(Duration::ZERO, None, None);
            // Unless one of the two is doubted, which keeps the slab warmer, or one of them starts the
            // circulator, which asks the water, or shows the flow.
            let (a, b) = (&cool.row, &warm.row);
            let sure = |row: &controller_core::trace::TraceRow| {
                let supply = &row.readings.supply;
                let slab = row.readings.slab.trust == Trust::Good && !row.estimate.slab_implausible;
                supply.trust == Trust::Good && !supply.noisy && slab
            };
            let alike = a.estimate.flow_proof == b.estimate.flow_proof
                && cool.outputs.circulator == warm.outputs.circulator;
            if !sure(a) || !sure(b) || !alike {
                break;
            }
            if !cool.outputs.boiler_call {
                prop_assert!(
                    !warm.outputs.boiler_call,
                    "{:?} for {:?}",
                    warm.row.summary,
                    cool.row.summary
                );
            } else {
                break;
            }
        }
    }

    /// While a limit holds the boiler off, losing the sensor that says so does not let it on, where nothing but the
    /// controller limits the supply.
    #[test]
    fn losing_a_sensor_never_frees_a_held_call(
        settings in settings(),
        life in life(8),
        which in 0_usize..3,
        fault in prop_oneof![Just(ReadFault::Absent), Just(ReadFault::Missing), Just(ReadFault::Checksum)],
    ) {
        let mut raw = *settings.raw();
        raw.supply_limited = false;
        let settings = Settings::check(raw).expect("as valid as before");
        let life = unchanged(&life);
        let mut alive = lived(&settings, &life);
        let sensor = [Sensor::Supply, Sensor::Return, Sensor::Slab][which];
        // Hot for long enough to be trusted; a hot slab takes two.
        let hot = |t: i32| Sample::Framed(Celsius::from_milli(t));
        if sensor == Sensor::Supply {
            alive.samples.supply = hot(45_000);
        }
        alive.samples.ret = hot(33_000);
        alive.samples.slab = hot(30_000);
        for _ in 0..800 {
            alive.step(Duration::ZERO, None, None);
        }
        let readings = alive.step(Duration::ZERO, None, None).row.readings;
        // Not if a comparison contradicts what they say.
        prop_assume!(Sensor::ALL[..3].iter().all(|s| !readings.get(*s).is_lost()) || sensor == Sensor::Supply);
        *alive.samples.get_mut(sensor) = Sample::Failed(fault);
        for _ in 0..100 {
            let report = alive.step(Duration::ZERO, None, None);
            prop_assert!(!report.outputs.boiler_call, "{sensor:?} {fault:?}");
        }
    }

    /// A value outside a place's range is no value: which one it is changes nothing.
    #[test]
    fn what_an_impossible_reading_says_does_not_matter(
        settings in settings(),
        life in life(20),
        which in 0_usize..4,
        one_value in 12_200_i16..=i16::MAX,
        other_value in i16::MIN..=-5_800,
    ) {
        let mut one = lived(&settings, &life);
        let mut other = one.clone();
        let sensor = Sensor::ALL[which];
        *one.samples.get_mut(sensor) = Sample::Framed(Celsius::from_128ths(one_value));
        *other.samples.get_mut(sensor) = Sample::Framed(Celsius::from_128ths(other_value));
        for _ in 0..60 {
            let a = one.step(Duration::ZERO, None, None);
            let b = other.step(Duration::ZERO, None, None);
            prop_assert_eq!(a.outputs, b.outputs);
            prop_assert_eq!(a.row.estimate, b.row.estimate);
        }
        prop_assert_eq!(one.controller, other.controller);
    }

    /// A doubted slab reading never means less frost protection than the same reading trusted.
    #[test]
    fn doubt_never_lowers_frost_protection(
        settings in settings(),
        life in life(15),
        slab in 150_i16..700,
        jump in 500_i16..2_000,
    ) {
        let mut one = lived(&settings, &life);
        one.samples.slab = Sample::Framed(Celsius::from_128ths(slab));
        for _ in 0..400 {
            one.step(Duration::ZERO, None, None);
        }
        let mut other = one.clone();
        let trusted = one.step(Duration::ZERO, None, None);
        prop_assume!(trusted.row.readings.slab.trust == Trust::Good);
        // The same slab with a reading that cannot be: warmer by a jump.
        other.samples.slab = Sample::Framed(Celsius::from_128ths(slab + jump));
        let mut doubted = other.step(Duration::ZERO, None, None);
        // Less than the two minutes in which a new level is accepted.
        for _ in 0..4 {
            doubted = other.step(Duration::ZERO, None, None);
        }
        for _ in 0..4 {
            one.step(Duration::ZERO, None, None);
        }
        let still = one.step(Duration::ZERO, None, None);
        let doubted_now = doubted.row.readings.slab.trust == Trust::Suspect;
        if doubted_now && trusted.row.summary.frost.is_some() && still.row.summary.frost.is_some() {
            prop_assert!(doubted.row.summary.frost.is_some());
        }
    }
}

/// The shift used above is exact.
#[test]
fn shifting_is_exact() {
    let t = Sample::Framed(Celsius::from_milli(2_000));
    let down = shifted(t, -128).value().expect("a value");
    assert_eq!(
        t.value().expect("a value") - down,
        Kelvin::from_milli(1_000)
    );
}
