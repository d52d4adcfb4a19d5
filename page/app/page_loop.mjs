// Is the loop right: the design check.

import { Answer } from "./answer.mjs";
import { el, labelled } from "./dom.mjs";

export function loopPage({ house, quick, guard, later }) {
  const hold = el("input", { type: "text" });
  const design = el("input", { type: "text", placeholder: "of the weather file" });
  const answer = new Answer("loop");
  const run = guard(async () => {
    const { args, files } = await house.asked({ settings: false, weather: design.value.trim() === "" });
    const more = [];
    if (hold.value.trim() !== "") more.push("--hold", hold.value.trim());
    if (design.value.trim() !== "") more.push("--design", design.value.trim());
    const command = ["size", ...args, ...more];
    const ran = await quick.run([...command, "--report", "report.html"], ["report.html"], files);
    answer.sameOnPc(command);
    if (ran.refused) return answer.refuse(ran.refused);
    answer.show(ran.files["report.html"], "loop.html");
    answer.sayHeadline();
  }, answer);
  const usual = () => (hold.placeholder = house.units === "us" ? "35.6 °F" : "2 °C");
  for (const control of [hold, design]) control.addEventListener("input", later(run));
  usual();
  const parts = [
    el("p", {}, "Before the concrete is poured: can this loop hold the slab, and with what to spare?"),
    el(
      "div",
      { className: "fields" },
      labelled("hold", "Temperature to hold", hold, "Of the slab's core and once more of the air, with its unit."),
      labelled("design", "Cold night to be ready for", design, "Left empty: the weather file's 99.6 % heating design temperature."),
    ),
    answer.element,
  ];
  return { parts, run, opened: usual };
}
