// One key of the site or settings file as a control: a slider for the usual range beside a field for the possible one, a list of
// words, a tick or a text. A value nobody touched stays as the file has it, whatever a slider can show.

import { button, choice, el } from "./dom.mjs";

const FINE = 60;

// A round step about so large.
function roundStep(rough) {
  const power = 10 ** Math.floor(Math.log10(rough));
  return [1, 2, 5, 10].map((factor) => factor * power).find((step) => step >= rough * 0.99);
}

const digitsOf = (step) => Math.max(0, -Math.floor(Math.log10(step) + 1e-9));

export const nameOf = (row) => row.name.replaceAll("_", " ");

// What the file would have for a number or word as chosen.
function written(kind, value) {
  switch (kind.is) {
    case "number":
      return kind.unit === "" ? String(value) : JSON.stringify(`${value} ${kind.unit}`);
    case "flag":
      return String(value);
    default:
      return JSON.stringify(value);
  }
}

export function keyField(prefix, file, row, house) {
  const { kind } = row;
  const id = `${prefix}-${row.section || "settings"}-${row.name}`;
  const touched = house.touched(file, row.section, row.name);
  const mark = el("span", { className: "changed", hidden: touched === undefined }, "changed");
  const touch = (value) => {
    house.touch(file, row.section, row.name, value === undefined ? undefined : written(kind, value));
    mark.hidden = back.hidden = value === undefined;
  };
  const back = button("As in the file", () => {
    reset();
    touch(undefined);
  }, { hidden: touched === undefined, "aria-label": `${nameOf(row)}: as in the file` });
  let reset;
  const controls = [];
  if (kind.is === "number") {
    const [low, high] = kind.usual ?? kind.possible;
    const now = kind.now ?? low;
    const step = kind.whole ? 1 : roundStep((high - low) / FINE || 1);
    const slider = el("input", {
      type: "range",
      id,
      min: Math.min(low, now),
      max: Math.max(high, now),
      step: now < low ? "any" : step,
      "aria-describedby": `${id}-meaning`,
    });
    const number = el("input", {
      type: "number",
      min: kind.possible[0],
      max: kind.possible[1],
      step: "any",
      "aria-label": `${nameOf(row)}, ${kind.unit || "number"}`,
    });
    const tell = (value) => slider.setAttribute("aria-valuetext", `${value} ${kind.unit}`.trim());
    reset = () => {
      slider.value = now;
      number.value = kind.now ?? "";
      tell(kind.now ?? "not there");
    };
    reset();
    const typed = touched?.replaceAll('"', "").split(" ")[0];
    if (typed !== undefined) {
      slider.value = number.value = typed;
      tell(typed);
    }
    slider.addEventListener("input", () => {
      const value = Number(Number(slider.value).toFixed(digitsOf(step)));
      number.value = value;
      number.setCustomValidity("");
      tell(value);
      touch(value);
    });
    number.addEventListener("input", () => {
      if (number.value === "" || !number.checkValidity()) return;
      slider.value = number.value;
      tell(number.value);
      touch(Number(number.value));
    });
    controls.push(slider, el("span", { className: "number" }, number, el("span", { className: "unit" }, kind.unit)));
  } else if (kind.is === "flag") {
    const tick = el("input", { type: "checkbox", id, "aria-describedby": `${id}-meaning` });
    reset = () => (tick.checked = row.value === "true");
    reset();
    if (touched !== undefined) tick.checked = touched === "true";
    tick.addEventListener("change", () => touch(tick.checked));
    controls.push(tick);
  } else {
    const bare = (text) => (text ?? "").replace(/^"|"$/g, "");
    const control = kind.is === "word" ? choice(kind.words.map((word) => [word, word])) : el("input", { type: "text" });
    control.id = id;
    control.setAttribute("aria-describedby", `${id}-meaning`);
    reset = () => (control.value = bare(row.value));
    reset();
    if (touched !== undefined) control.value = bare(touched);
    control.addEventListener("change", () => touch(control.value));
    controls.push(control);
  }
  return el(
    "div",
    { className: "key" },
    el("label", { for: id }, row.section ? el("span", { className: "section" }, `${row.section.replaceAll("_", " ")}: `) : null, nameOf(row)),
    ...controls,
    el("span", { className: "marks" }, mark, back),
    el("p", { id: `${id}-meaning`, className: "meaning" }, row.meaning),
  );
}
