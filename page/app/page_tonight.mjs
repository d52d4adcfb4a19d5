// Tonight: a forecast and three readings, and whether to light the fire.

import { Answer } from "./answer.mjs";
import { button, choice, el, labelled } from "./dom.mjs";

export function tonightPage({ house, slow, guard }) {
  const number = (value) => el("input", { type: "number", step: "any", value });
  const fields = { low: number(), high: number(), slab: number(), store: number(), outdoor: number() };
  const sky = choice([["", "not known"], ["--clear", "clear"], ["--cloudy", "cloudy"]], "");
  const now = el("input", { type: "time" });
  const until = el("input", { type: "time" });
  const usesLog = el("input", { type: "checkbox" });
  const answer = new Answer("tonight");
  const clockNow = new Date();
  now.value = `${String(clockNow.getHours()).padStart(2, "0")}:${String(clockNow.getMinutes()).padStart(2, "0")}`;

  const run = guard(async () => {
    const { args, files } = await house.asked();
    const degrees = house.units === "us" ? "°F" : "°C";
    const command = ["tonight", ...args];
    for (const [name, input] of Object.entries(fields)) {
      if (input.value !== "") command.push(`--${name}`, `${input.value} ${degrees}`);
    }
    if (sky.value) command.push(sky.value);
    if (usesLog.checked && house.log) {
      files.push([house.log.name, house.log.bytes]);
      command.push("--log", house.log.name, ...(house.log.form ?? []));
    } else if (now.value) {
      command.push("--now", now.value);
    }
    if (until.value) command.push("--until", until.value);
    answer.sameOnPc(command);
    answer.say("Running two hundred nights that fit readings and forecast …");
    answer.age();
    const ran = await slow.run([...command, "--report", "report.html"], ["report.html"], files);
    if (ran.refused) return answer.refuse(ran.refused);
    answer.show(ran.files["report.html"], "tonight.html");
    answer.sayHeadline();
  }, answer);

  const fill = (values) => {
    for (const [name, value] of Object.entries(values)) fields[name].value = value;
  };
  const example = button("Fill in an example", () => {
    const celsius = { low: -9, high: -1, slab: 6, store: 8, outdoor: -2 };
    const shown = house.units === "us" ? (value) => Math.round(value * 1.8 + 32) : (value) => value;
    fill(Object.fromEntries(Object.entries(celsius).map(([name, value]) => [name, shown(value)])));
    sky.value = "--clear";
    now.value = "18:00";
  });
  const unit = () => (house.units === "us" ? "°F" : "°C");
  const units = [];
  const field = (id, label, control, meaning) => {
    const made = labelled(id, label, control, meaning);
    const shown = el("span", {}, "");
    made.querySelector("label").append(", ", shown);
    units.push(shown);
    return made;
  };
  const tellUnits = () => units.forEach((shown) => (shown.textContent = unit()));
  const parts = [
    el("p", {}, "Will the store alone hold the slab until morning, or is the fire to be lit, by when and with how much wood?"),
    el(
      "div",
      { className: "fields" },
      field("low", "Forecast low of the night", fields.low),
      field("high", "Forecast high of tomorrow", fields.high),
      labelled("sky", "Sky", sky, "Not known: both are reckoned with."),
      field("slab", "Slab now", fields.slab),
      field("store", "Store now", fields.store),
      field("outdoor", "Outdoors now", fields.outdoor, "May be left out."),
      labelled("now", "Time of the readings", now, "Local standard time."),
      labelled("until", "End of the night", until, "Left empty: two hours after sunrise."),
      labelled("uses-log", "Take the readings from My log", usesLog, "A log dropped there; its newest row is the moment asked from."),
    ),
    el("p", { className: "tools" }, button("Ask", run), example),
    answer.element,
  ];
  tellUnits();
  return { parts, changed: () => answer.age(), opened: tellUnits };
}
