// Puts the pages together.

import { Answer } from "./answer.mjs";
import { el } from "./dom.mjs";
import { faultsPage } from "./page_faults.mjs";
import { House } from "./house.mjs";
import { housePage } from "./page_house.mjs";
import { layPage } from "./page_lay.mjs";
import { livePage } from "./page_live.mjs";
import { logPage } from "./page_log.mjs";
import { loopPage } from "./page_loop.mjs";
import { Simulator, unpacked } from "./simulator.mjs";
import { tonightPage } from "./page_tonight.mjs";
import { winterPage } from "./page_winter.mjs";

// Waits for the last of many changes before it acts, ms.
const PAUSE_MS = 120;

const PAGES = [
  ["house", "My house", housePage],
  ["loop", "Is the loop right?", loopPage],
  ["winter", "A winter", winterPage],
  ["tonight", "Tonight", tonightPage],
  ["log", "My log", logPage],
  ["lay", "Lay plan", layPage],
  ["faults", "Faults", faultsPage],
  ["live", "Live unit", livePage],
];

const data = (id) => document.getElementById(id).textContent;

function later(act) {
  let timer;
  return () => {
    clearTimeout(timer);
    timer = setTimeout(act, PAUSE_MS);
  };
}

async function givenFiles() {
  const given = JSON.parse(data("given"));
  for (const name of ["weather", "log"]) {
    if (given[name]) given[name] = { name: given[name].name, bytes: await unpacked(given[name].packed) };
  }
  given.files = await Promise.all(given.files.map(async ({ name, packed }) => [name, await unpacked(packed)]));
  return given;
}

async function start() {
  const [bytes, weather, given] = await Promise.all([unpacked(data("module")), unpacked(data("weather")), givenFiles()]);
  const module = await WebAssembly.compile(bytes);
  const url = URL.createObjectURL(new Blob([data("worker")], { type: "text/javascript" }));
  const always = [[document.getElementById("weather").dataset.name, weather]];
  // A unit is heard by one of its own, so that no winter makes it wait.
  const [quick, slow, live] = [always, always, []].map((files) => new Simulator(module, url, files));
  const house = new House(quick, given);
  const says = new Answer("page");
  document.getElementById("faults-of-page").append(says.element);

  // Whatever fails is said where its answer would stand.
  const guard = (act, answer = says) => async (...given) => {
    try {
      return await act(...given);
    } catch (error) {
      answer.failed(error);
      return undefined;
    }
  };
  const shared = { house, quick, slow, live, guard, later };
  const main = document.getElementById("pages");
  const nav = document.getElementById("nav");
  const made = new Map();
  for (const [id, title] of PAGES) nav.append(el("li", {}, el("a", { href: `#${id}` }, title)));

  // A page is made when it is first looked at, and what it shows is run then.
  const look = () => {
    const wanted = location.hash.slice(1);
    const [id, title, page] = PAGES.find(([known]) => known === wanted) ?? PAGES[0];
    const isFirst = !made.has(id);
    if (isFirst) {
      const heading = el("h2", { tabindex: -1 }, title);
      const { parts, ...rest } = page(shared);
      const section = el("div", { className: "page" }, heading, ...parts);
      made.set(id, { section, heading, isOld: true, ...rest });
      main.append(section);
    }
    for (const [other, { section }] of made) section.hidden = other !== id;
    for (const link of nav.querySelectorAll("a")) {
      if (link.hash === `#${id}`) link.setAttribute("aria-current", "page");
      else link.removeAttribute("aria-current");
    }
    refresh(made.get(id));
    document.title = `${title} · Slab controller`;
    if (wanted !== "" && isFirst === false) made.get(id).heading.focus();
  };
  // What is shown is run; what is not waits until it is.
  const refresh = (page) => {
    if (page.isOld && !page.section.hidden) {
      page.isOld = false;
      page.run?.();
    }
  };
  const refreshAll = later(() => [...made.values()].forEach(refresh));
  house.addEventListener("changed", () => {
    for (const page of made.values()) {
      page.isOld = true;
      page.changed?.();
    }
    refreshAll();
  });
  house.addEventListener("opened", () => {
    for (const page of made.values()) {
      page.isOld = true;
      page.opened?.();
      page.changed?.();
    }
    refreshAll();
  });
  addEventListener("hashchange", look);
  const units = document.getElementById("units");
  units.value = house.units;
  units.addEventListener("change", () => house.setUnits(units.value));
  document.getElementById("waiting").remove();
  look();
}

start().catch((error) => {
  document.getElementById("waiting").textContent =
    `This browser cannot run the simulator (${error.message}). The program does the same on a PC: host-sim --help.`;
});
