// Lay plan: where the tube goes, before the concrete is poured.

import { Answer } from "./answer.mjs";
import { button, choice, el, fileButton, labelled, save } from "./dom.mjs";

export function layPage({ house, slow, guard }) {
  const text = (placeholder) => el("input", { type: "text", placeholder });
  const spacing = text("as the house has it");
  const printed = text("");
  const coils = text("those that are usual");
  const layout = choice([["counter-flow", "as a double spiral"], ["serpentine", "to and fro"], ["both", "both, compared"]], "counter-flow");
  const strips = el("input", { type: "checkbox" });
  const which = el("p", { role: "status" });
  const answer = new Answer("lay");
  let plan = null;

  const command = async () => {
    const { args, files } = await house.asked({ settings: false });
    const typed = [["--spacing", spacing], ["--printed", printed], ["--coils", coils]];
    const more = typed.flatMap(([name, input]) => (input.value.trim() === "" ? [] : [name, input.value.trim()]));
    if (layout.value !== "counter-flow") more.push("--layout", layout.value);
    if (strips.checked) more.push("--leave-strips");
    if (plan) {
      files.push([plan.name, plan.bytes]);
      more.push("--plan", plan.name);
    }
    return { command: ["lay", ...args, ...more], files };
  };
  const draw = guard(async () => {
    const asked = await command();
    answer.sameOnPc([...asked.command, "--write-pdf", "plan.pdf"]);
    answer.say("Drawing …");
    answer.age();
    const ran = await slow.run([...asked.command, "--report", "report.html"], ["report.html"], asked.files);
    if (ran.refused) return answer.refuse(ran.refused);
    answer.show(ran.files["report.html"], "lay.html");
    answer.sayHeadline();
    return undefined;
  }, answer);

  // One output, asked for when it is wanted.
  const made = async (option, name) => {
    const { command: args, files } = await command();
    const ran = await slow.run([...args, option, name], [], files, [name]);
    if (ran.refused) throw new Error(ran.refused);
    return new Uint8Array(ran.bytes[name]);
  };
  const output = (words, option, name, use) => button(words, guard(async () => use(await made(option, name)), answer));
  const opened = () => {
    which.textContent = plan ? `The floor of ${plan.name}.` : "The rectangle of My house, with the manifold in a corner.";
  };
  const parts = [
    el("p", {}, "Where does the tube go, how long is it, and how evenly does it warm? A plan to lay by, before the concrete is poured."),
    which,
    el(
      "p",
      { className: "tools" },
      fileButton("open-plan", "Open a plan file", ".toml,text/plain", (name, bytes) => {
        plan = { name, bytes };
        opened();
        draw();
      }),
    ),
    el(
      "div",
      { className: "fields" },
      labelled("spacing", "Distance from run to run", spacing, "With its unit, such as 0.20 m or 8 in."),
      labelled("layout", "How it lies", layout),
      labelled("printed", "Figure printed on the tube where it begins", printed, "Such as 37 m, or 137 m down where the figures fall."),
      labelled("coils", "Coils that are sold", coils, "Such as 100, 120, 200 m."),
      labelled("strips", "Leave strips beside obstacles bare", strips),
    ),
    el(
      "p",
      { className: "tools" },
      button("Draw it", draw),
      output("Save sheets to print (PDF)", "--write-pdf", "plan.pdf", (bytes) => save("plan.pdf", bytes, "application/pdf")),
      output("Save the drawing (SVG)", "--write-svg", "plan.svg", (bytes) => save("plan.svg", bytes, "image/svg+xml")),
      output("Take this tube into My house", "--write-site", "drawn.toml", (bytes) => {
        house.open("site", house.site.name, new TextDecoder().decode(bytes));
        answer.say("My house has the tube as drawn.");
      }),
    ),
    answer.element,
  ];
  opened();
  return { parts, run: draw, changed: () => answer.age(), opened };
}
