//! What everybody who builds from this must have read. Shown at the foot of every page.

/// Cautions, a title and a text each.
///
/// Sources: IRC 2018 M2001 and M2101.10, EN 12828, EN 303-5 (relief, limits, heat dissipation); OSHA and
/// NIOSH limits for CO, CO2 and oxygen, 29 CFR 1910.146; university extension bulletins on ethylene.
/// From memory and second-hand excerpts: the local code and a licensed person have the last word.
pub const CAUTIONS: [(&str, &str); 9] = [
    (
        "Not a safety device",
        "Nothing here protects people or boilers. What protects must be hardware that still works with this controller taken out.",
    ),
    (
        "High limit",
        "Wire an independent limit with manual reset, set to 55 to 60 °C (130 to 140 °F), into the boiler call.",
    ),
    (
        "Pressure",
        "Every heat source needs its relief valve, with a full-size open discharge, and expansion; the boiler as its maker says.",
    ),
    (
        "Wood fires",
        "A fire does not stop with the power: give its heat a way out that needs none.",
    ),
    (
        "Frost without the controller",
        "Put a line-voltage frost thermostat in parallel with the pump relay, a hand switch beside it, and post how to drain. Moving water alone is no protection in a power cut.",
    ),
    (
        "Electricity",
        "Mains wiring belongs to a licensed electrician and to the local code, with residual-current (ground-fault) protection and a disconnect.",
    ),
    (
        "Scalding",
        "Pressurised hot water burns within seconds at 60 °C (140 °F) and within minutes at 49 °C (120 °F).",
    ),
    (
        "Not drinking water",
        "Heating water and glycol stay apart from it: an approved backflow preventer, of the reduced-pressure kind where anything is added.",
    ),
    (
        "Air",
        "Fires give carbon monoxide, and ethylene that harms plants; cellars can hold carbon dioxide or lack oxygen. Ventilate, put CO alarms in house, cellar and plant house, and never go down alone into bad air.",
    ),
];
