// My house: the questions that make a site file, every key of it and of the settings, and the files themselves.

import { button, el, fileButton, labelled, save } from "./dom.mjs";
import { keyField, nameOf } from "./fields.mjs";

export function housePage({ house, quick, guard }) {
  const which = el("p", { role: "status" });
  const remarks = el("ul");
  const doubts = el("div", { hidden: true }, el("h3", {}, "To be looked at"), remarks);
  const questions = el("div", { className: "fields" });
  const keys = el("div");
  const search = el("input", { type: "search" });
  const text = (bytes) => new TextDecoder().decode(bytes);

  const files = el(
    "p",
    { className: "tools" },
    fileButton("open-site", "Open a site file", ".toml,text/plain", (name, bytes) => house.open("site", name, text(bytes))),
    fileButton("open-settings", "Open a settings file", ".toml,text/plain", (name, bytes) =>
      house.open("settings", name, text(bytes)),
    ),
    fileButton("open-weather", "Open a weather file", ".epw,.csv", (name, bytes) => house.openWeather(name, bytes)),
    button("Save the site file", guard(async () => save("site.toml", (await house.text("site")) || (await demo())))),
    button("Save the settings file", guard(async () => save("settings.toml", await settings()))),
    button("Undo every change", () => house.untouch()),
  );

  const demo = async () => (await quick.run(["site", ...units()], [])).printed;
  const units = () => (house.units === "us" ? ["--units", "us"] : []);
  const settings = async () => {
    const own = await house.text("settings");
    if (own !== "") return own;
    const { args, files } = await house.asked({ settings: false });
    const ran = await quick.run(["size", ...args, "--write-settings", "out.toml"], ["out.toml"], files);
    if (ran.refused) throw new Error(ran.refused);
    return ran.files["out.toml"];
  };

  // The questions.
  let inputs = [];
  let asked = null;
  const ask = guard(async () => {
    asked = await quick.ask({ ask: "site", units: house.units, answers: inputs.map((input) => input.value) });
    if (inputs.length === 0) {
      inputs = asked.questions.map(() => el("input", { type: "text", autocomplete: "off", oninput: ask }));
      questions.replaceChildren(
        ...asked.questions.map((question, index) => labelled(`question-${index}`, question.asks, inputs[index], "-")),
      );
    }
    asked.questions.forEach((question, index) => {
      const input = inputs[index];
      input.placeholder = question.default;
      input.setAttribute("aria-invalid", question.refused !== null);
      const meaning = document.getElementById(`question-${index}-meaning`);
      if (meaning) meaning.textContent = question.refused ?? `${question.means} Without an answer: ${question.default}.`;
    });
  });
  const make = button("Make this my house", () => {
    house.open("settings", "settings.toml", "");
    house.open("site", "site.toml", asked.text);
  });

  // The keys.
  const list = guard(async () => {
    const texts = [await house.text("site"), await house.text("settings")];
    // What a file has is shown as it was opened; what was touched since stands in its control.
    const answer = await quick.ask({
      ask: "keys",
      units: house.units,
      site: house.site.text,
      settings: house.settings.text,
    });
    if (answer.refused) throw new Error(answer.refused);
    const groups = new Map();
    for (const [file, rows] of [
      ["settings", answer.settings],
      ["site", answer.site],
    ]) {
      for (const row of rows) {
        const heading = file === "settings" ? `Settings. ${row.heading}` : row.heading;
        if (!groups.has(heading)) groups.set(heading, []);
        groups.get(heading).push([file, row]);
      }
    }
    const details = [...groups].map(([heading, rows]) => {
      const group = el("details", {}, el("summary", {}, heading));
      group.rows = rows;
      // A control is made only when somebody looks.
      group.addEventListener("toggle", () => {
        if (group.open && !group.filled) {
          group.filled = true;
          group.append(...rows.map(([file, row]) => keyField("all", file, row, house)));
        }
      });
      return group;
    });
    keys.replaceChildren(...details);
    const name = house.site.text === "" ? "The demo house" : `The house of ${house.site.name}`;
    which.textContent = `${name}${texts[1] === "" ? ", with settings that follow from it" : ""}.`;
    remarks.replaceChildren(...answer.remarks.map((remark) => el("li", {}, remark)));
    doubts.hidden = answer.remarks.length === 0;
    find();
  });
  const find = () => {
    const wanted = search.value.trim().toLowerCase();
    for (const group of keys.children) {
      const found = group.rows.map(([, row]) => `${nameOf(row)} ${row.section} ${row.meaning}`.toLowerCase().includes(wanted));
      group.hidden = !found.includes(true);
      group.open = wanted !== "" && !group.hidden;
      if (group.open && !group.filled) group.dispatchEvent(new Event("toggle"));
      [...group.querySelectorAll(".key")].forEach((key, index) => (key.hidden = !found[index]));
    }
  };
  search.addEventListener("input", find);
  const opened = () => {
    inputs = [];
    ask();
    list();
  };
  opened();

  const parts = [
    el("p", {}, "What the other pages are about. Without a file of yours it is an invented demo house: look round with it first."),
    which,
    files,
    el("details", {}, el("summary", {}, "Describe it: fifteen questions"), questions, el("p", { className: "tools" }, make)),
    el("h3", {}, "Every value"),
    el("p", {}, "A slider spans what is usual, its field takes what is possible. What you do not touch stays as the file has it."),
    el("div", { className: "fields" }, labelled("search", "Find a value", search)),
    keys,
    doubts,
  ];
  return { parts, opened };
}
