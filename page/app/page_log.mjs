// My log: a CSV of one's own temperatures, replayed. Which column is what is never guessed: it is the header's own name, or chosen.

import { Answer } from "./answer.mjs";
import { button, choice, el, fileButton, labelled } from "./dom.mjs";

const QUANTITIES = [
  ["supply", "Supply: the water from the store to the slab", true],
  ["return", "Return: the water back from the slab", true],
  ["slab", "Slab", true],
  ["outdoor", "Outdoors", true],
  ["air", "House air", true],
  ["store", "Store", true],
  ["circulator", "Circulator ran", false],
  ["boiler_call", "Boiler called", false],
];

export function logPage({ house, quick, slow, guard }) {
  const order = choice([["", "as the log shows"], ["dmy", "day, month, year"], ["mdy", "month, day, year"], ["ymd", "year, month, day"]], "");
  const missing = el("input", { type: "text" });
  const zone = el("input", { type: "text", placeholder: "none: a clock that is never set" });
  const skip = el("input", { type: "number", min: 0, step: 1, value: 0 });
  const table = el("div");
  const answer = new Answer("log");
  const drop = el("div", { className: "drop" });
  let headers = [];
  let picks = [];

  const form = () => {
    const args = [];
    for (const { target, control, unit } of picks) {
      if (control.value === "") continue;
      const name = target === "time" ? unit.value : unit ? `${target}_${unit.value}` : target;
      if (control.value !== name) args.push("--column", `${name}=${control.value}`);
    }
    if (order.value) args.push("--date-order", order.value);
    if (missing.value) args.push(`--missing=${missing.value}`);
    if (zone.value.trim()) args.push("--zone", zone.value.trim());
    if (skip.value !== "0" && skip.value !== "") args.push("--skip-lines", skip.value);
    return args;
  };

  const choose = guard(async () => {
    const read = await quick.ask({ ask: "headers", name: house.log.name, skip_lines: Number(skip.value) }, [[house.log.name, house.log.bytes]]);
    headers = read.headers ?? [];
    const options = [["", "not in this log"], ...headers.filter((header) => header !== "").map((header) => [header, header])];
    const exact = (...names) => headers.find((header) => names.includes(header.toLowerCase())) ?? "";
    const row = (target, words, control, unit) => {
      picks.push({ target, control, unit });
      control.setAttribute("aria-label", `Column of: ${words}`);
      unit?.setAttribute("aria-label", `Unit of: ${words}`);
      return el("tr", {}, el("th", { scope: "row" }, words), el("td", {}, control), el("td", {}, unit ?? ""));
    };
    picks = [];
    const time = exact("time_s", "time");
    const rows = [
      row("time", "Time", choice(options, time), choice([["time", "date and time"], ["time_s", "seconds"]], time.toLowerCase() === "time_s" ? "time_s" : "time")),
    ];
    for (const [name, words, isTemperature] of QUANTITIES) {
      const found = isTemperature ? exact(`${name}_c`, `${name}_f`) : exact(name);
      const unit = isTemperature ? choice([["c", "°C"], ["f", "°F"]], found.toLowerCase().endsWith("_f") ? "f" : "c") : null;
      rows.push(row(name, words, choice(options, found), unit));
    }
    const heads = ["What", "Column", "Unit"].map((head) => el("th", { scope: "col" }, head));
    table.replaceChildren(
      el("h3", {}, "Which column is what"),
      el("p", {}, "Only a header that is the very name is taken by itself. Choose the others."),
      el("div", { className: "scroll", tabindex: 0, role: "region", "aria-label": "Which column is what" }, el("table", { className: "picks" }, el("tbody", {}, el("tr", {}, ...heads), ...rows))),
      el("p", { className: "tools" }, button("Replay", run)),
    );
  }, answer);

  const run = guard(async () => {
    if (!house.log) return;
    const { files, args } = await house.asked();
    const site = args.indexOf("--site");
    // A replay is of the log alone: it needs no site.
    if (site >= 0) args.splice(site, 2);
    files.push([house.log.name, house.log.bytes]);
    house.log.form = form();
    const command = ["replay", house.log.name, ...args, ...house.log.form];
    answer.sameOnPc(command);
    answer.say("Replaying …");
    answer.age();
    const ran = await slow.run([...command, "--report", "report.html"], ["report.html"], files);
    if (ran.refused) return answer.refuse(ran.refused);
    answer.show(ran.files["report.html"], "log.html");
    answer.sayHeadline();
  }, answer);

  const open = async (name, bytes) => {
    house.log = { name, bytes };
    drop.querySelector("p").textContent = `${name}, ${Math.ceil(bytes.length / 1000)} kB.`;
    await choose();
    await run();
  };
  for (const kind of ["dragenter", "dragover"]) {
    drop.addEventListener(kind, (event) => {
      event.preventDefault();
      drop.classList.add("over");
    });
  }
  drop.addEventListener("dragleave", () => drop.classList.remove("over"));
  drop.addEventListener("drop", async (event) => {
    event.preventDefault();
    drop.classList.remove("over");
    const [file] = event.dataTransfer.files;
    if (file) open(file.name, new Uint8Array(await file.arrayBuffer()));
  });
  drop.append(el("p", {}, "Drop a log here, or"), fileButton("open-log", "Choose a log (CSV)", ".csv,.txt,.tsv,.gz", open));
  skip.addEventListener("change", () => house.log && choose());
  if (house.log) open(house.log.name, house.log.bytes);

  const parts = [
    el("p", {}, "What happened last night, and why? The controller decides anew on the temperatures your logger wrote. The file stays on this device."),
    drop,
    el(
      "details",
      {},
      el("summary", {}, "How the log is to be read"),
      el(
        "div",
        { className: "fields" },
        labelled("order", "Order of day and month", order),
        labelled("zone", "Zone of its times", zone, "Such as America/Denver: summer time is then known."),
        labelled("missing", "Text that is no reading", missing, "Such as unavailable or -127."),
        labelled("skip", "Lines above the header", skip),
      ),
    ),
    table,
    answer.element,
  ];
  return { parts, changed: () => answer.age() };
}
