// Where an answer stands: one sentence for everybody, the report, and what the same is on a PC.

import { button, el, pieceOf, save } from "./dom.mjs";
import { Dropped, Trapped } from "./simulator.mjs";

export class Answer {
  #prefix;
  status = el("p", { role: "status", className: "status" });
  #command = el("p", { className: "meaning" });
  #body = el("div", { className: "report" });
  #isApart;
  #tools = el("p", { className: "tools" });
  element = el("div", { className: "result" });

  // `isApart`: the sentence stands elsewhere on the page and stays to be seen.
  constructor(prefix, { isApart = false } = {}) {
    this.#prefix = prefix;
    this.#isApart = isApart;
    this.element.append(isApart ? "" : this.status, this.#tools, this.#body, this.#command);
  }

  say(words) {
    this.status.classList.remove("heard");
    if (this.status.textContent !== words) this.status.textContent = words;
  }

  // The report's own first word.
  get word() {
    return this.#body.querySelector(".answer .sentence b")?.textContent ?? "";
  }

  // The report's own first sentence, for who cannot see it below.
  sayHeadline() {
    const [word, sentence] = this.#body.querySelector(".answer .sentence")?.childNodes ?? [];
    const first = word?.textContent ?? "Done";
    this.say(`${first[0].toUpperCase()}${first.slice(1)}. ${sentence?.textContent ?? ""}`.trim());
    if (!this.#isApart) this.status.classList.add("heard");
  }

  // What stands here is of other values than those chosen now.
  age() {
    this.#body.classList.add("old");
  }

  show(html, name) {
    this.#body.replaceChildren(pieceOf(html, this.#prefix));
    this.#body.classList.remove("old");
    this.#tools.replaceChildren(button("Save this report", () => save(name, html)));
  }

  // While a run is under way.
  grow(html) {
    this.#body.replaceChildren(pieceOf(html, this.#prefix));
    this.#body.classList.remove("old");
    this.#tools.replaceChildren();
  }

  append(...parts) {
    this.#body.append(...parts);
  }

  sameOnPc(args) {
    const quoted = args.map((arg) => (/^[\w./=:-]+$/.test(arg) ? arg : `"${arg}"`)).join(" ");
    this.#command.replaceChildren("The same on a PC: ", el("code", {}, `host-sim ${quoted}`));
  }

  // The program's own words where it cannot use what was given.
  refuse(words) {
    this.say(`This cannot be used: ${words}`);
    this.age();
  }

  failed(error) {
    if (error instanceof Dropped) return;
    if (error instanceof Trapped) {
      this.say("The simulator stopped by a fault of its own. The last answer stays below; the next change begins anew.");
      this.age();
    } else {
      this.say(`This page has a fault: ${error.message}`);
    }
  }
}
