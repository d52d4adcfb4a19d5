// Faults: a built-in rehearsal of what can go wrong, and the night that follows.

import { Answer } from "./answer.mjs";
import { button, choice, el, labelled } from "./dom.mjs";

export function faultsPage({ house, quick, slow, guard }) {
  const which = choice([], "");
  const situation = el("p");
  const answer = new Answer("faults");
  let drills = [];
  const units = () => (house.units === "us" ? ["--units", "us"] : []);

  const list = guard(async () => {
    const ran = await quick.run(["drill", "--list", "--json", ...units()], []);
    drills = JSON.parse(ran.printed).drills;
    const chosen = which.value;
    which.replaceChildren(...drills.map(({ name }) => el("option", { value: name }, name.replaceAll("-", " "))));
    if (chosen) which.value = chosen;
    tell();
  }, answer);
  const tell = () => {
    const drill = drills.find(({ name }) => name === which.value);
    situation.textContent = drill ? `${drill.situation} What happens: ${drill.happens}.` : "";
  };
  const run = guard(async () => {
    const command = ["drill", "--drill", which.value, ...units()];
    answer.sameOnPc(command);
    answer.say("Running …");
    answer.age();
    const ran = await slow.run([...command, "--report", "report.html"], ["report.html"]);
    if (ran.refused) return answer.refuse(ran.refused);
    answer.show(ran.files["report.html"], "drill.html");
    answer.append(el("details", {}, el("summary", {}, "Step by step"), el("pre", { tabindex: 0 }, ran.printed)));
    answer.sayHeadline();
  }, answer);
  which.addEventListener("change", () => {
    tell();
    answer.age();
  });
  list();

  const parts = [
    el("p", {}, "A sensor lies, the power fails, the fire does not catch: does the controller do what it must, in time? Each rehearsal has a house of its own."),
    el("div", { className: "fields" }, labelled("drill", "What goes wrong", which)),
    situation,
    el("p", { className: "tools" }, button("Watch it", run)),
    answer.element,
  ];
  return { parts, opened: list };
}
