// A winter: sliders, the season growing week by week, and one run kept beside another.

import { Answer } from "./answer.mjs";
import { button, el, labelled, pieceOf, tilesOf } from "./dom.mjs";
import { keyField } from "./fields.mjs";
import { clock } from "./simulator.mjs";

// What decides most; every other value is under My house.
const FAVOURITES = [
  ["settings", "", "slab_set"],
  ["settings", "", "slab_band"],
  ["settings", "", "start_difference"],
  ["settings", "", "backup_slab"],
  ["site", "house", "glazing_u_value"],
  ["site", "house", "air_changes"],
  ["site", "house", "edge_loss"],
  ["site", "slab", "spacing"],
  ["site", "slab", "circuit_length"],
  ["site", "earth", "mean"],
  ["site", "boiler", "power"],
];

// Drawing takes time that the winter could run in: no picture sooner after the one before.
const PICTURES_MS = 700;

export function winterPage({ house, quick, slow, guard, later }) {
  const sliders = el("div");
  const from = el("input", { type: "date", value: "2025-10-15" });
  const days = el("input", { type: "number", min: 1, max: 365, value: 182 });
  const seed = el("input", { type: "number", min: 0, step: 1, value: 1 });
  const compares = el("input", { type: "checkbox" });
  const fingerprint = el("input", { type: "checkbox" });
  const answer = new Answer("winter", { isApart: true });
  const kept = el("div");
  const print = el("p", { className: "fingerprint" });
  let keptRun = null;
  let lastRun = null;
  let wanted = 0;

  const list = guard(async () => {
    const keys = await quick.ask({ ask: "keys", units: house.units, site: house.site.text, settings: house.settings.text });
    if (keys.refused) return answer.refuse(keys.refused);
    const rows = FAVOURITES.map(([file, section, name]) => [
      file,
      keys[file].find((row) => row.section === section && row.name === name),
    ]);
    sliders.replaceChildren(...rows.filter(([, row]) => row?.value).map(([file, row]) => keyField("fav", file, row, house)));
  });

  // A newer wish ends an older run between two weeks.
  const run = guard(async () => {
    wanted += 1;
    const mine = wanted;
    answer.age();
    if (!days.checkValidity() || !seed.checkValidity() || from.value === "") {
      return answer.refuse("the first day, the number of days (1 to 365) and the seed are whole numbers and a date");
    }
    const { changes } = house;
    const { args, files } = await house.asked({ weather: true });
    const command = ["winter", ...args];
    if (from.value !== "2025-10-15") command.push("--from", from.value);
    if (days.value !== "182") command.push("--days", days.value);
    if (seed.value !== "1") command.push("--seed", seed.value);
    if (fingerprint.checked) command.push("--fingerprint");
    answer.sameOnPc(command);
    await slow.ask(clock(), files);
    if (mine !== wanted) return;
    const begun = await slow.ask({ ask: "winter", args: [...command, "--json", "--report", "report.html"] });
    if (begun.refused) return answer.refuse(begun.refused);
    let drawn = -Infinity;
    for (;;) {
      const picture = performance.now() - drawn > PICTURES_MS;
      const grown = await slow.ask({ ask: "advance", days: 7, picture });
      if (mine !== wanted) return;
      if (grown.refused) return answer.refuse(grown.refused);
      if (grown.days >= grown.of) break;
      if (grown.picture) {
        answer.grow(grown.picture);
        drawn = performance.now();
      }
      answer.say(`Running: ${grown.days} of ${grown.of} days.`);
    }
    if (compares.checked) answer.say("Running twice more: without the boiler, without the loop.");
    const ran = await slow.ask({ ask: "end", compares: compares.checked, take: ["report.html"] });
    if (mine !== wanted) return;
    if (ran.refused) return answer.refuse(ran.refused);
    const numbers = JSON.parse(ran.printed);
    const html = ran.files["report.html"];
    lastRun = { html, tiles: [["Values", changes], ...tilesOf(html)] };
    answer.show(html, "winter.html");
    print.textContent = numbers.trace_sha256 ? `Fingerprint of the trace (SHA-256): ${numbers.trace_sha256}` : "";
    answer.sayHeadline();
    compareWithKept();
  }, answer);

  const compareWithKept = () => {
    if (!keptRun || !lastRun) return kept.replaceChildren();
    const before = new Map(keptRun.tiles);
    const rows = lastRun.tiles.map(([label, value]) => {
      const old = before.get(label) ?? "";
      return el("tr", {}, el("th", { scope: "row" }, label), el("td", {}, value), el("td", {}, old), el("td", {}, old === value ? "" : "differs"));
    });
    const heads = ["", "Now", "Kept", ""].map((head) => (head ? el("th", { scope: "col" }, head) : el("td", {})));
    const picture = document.createElement("div");
    picture.append(pieceOf(keptRun.html, "kept"));
    const figure = picture.querySelector("figure");
    kept.replaceChildren(
      el("h3", {}, "Beside the kept run"),
      el("div", { className: "scroll", tabindex: 0, role: "region", "aria-label": "Now and kept" }, el("table", {}, el("tbody", {}, el("tr", {}, ...heads), ...rows))),
      el("details", {}, el("summary", {}, "The kept run's picture"), picture.querySelector("svg.hidden") ?? "", figure ?? ""),
      el("p", { className: "tools" }, button("Let it go", () => {
        keptRun = null;
        compareWithKept();
      })),
    );
  };
  const keep = button("Keep this run to compare with", () => {
    keptRun = lastRun;
    compareWithKept();
  });

  const soon = later(run);
  for (const control of [from, days, seed]) control.addEventListener("input", soon);
  for (const control of [compares, fingerprint]) control.addEventListener("change", soon);
  list();

  const parts = [
    el("p", {}, "The controller in closed loop with a model of the house and its earth, through the weather of a typical year."),
    answer.status,
    el("details", { open: matchMedia("(min-width: 48rem)").matches }, el("summary", {}, "Change something"), sliders),
    el(
      "details",
      {},
      el("summary", {}, "When, and what else"),
      el(
        "div",
        { className: "fields" },
        labelled("from", "First day", from, "Weather files are typical years: only month and day count."),
        labelled("days", "Days", days),
        labelled("seed", "Seed", seed, "Of the sensors' noise: same seed, same winter."),
        labelled("compares", "Also without the boiler and without the loop", compares, "Takes three times as long."),
        labelled("fingerprint", "Fingerprint the trace", fingerprint, "The same as host-sim winter --fingerprint prints, if every step is the same."),
      ),
    ),
    el("p", { className: "tools" }, keep),
    kept,
    answer.element,
    print,
  ];
  return { parts, run, opened: list };
}
