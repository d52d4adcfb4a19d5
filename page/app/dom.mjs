// Small pieces of a page. Text goes in as text, never as markup; only a report's own markup, escaped where it is written, is taken over.

export function el(name, properties = {}, ...children) {
  const element = document.createElement(name);
  for (const [key, value] of Object.entries(properties)) {
    if (value === undefined || value === null || value === false) continue;
    if (key.startsWith("on")) element.addEventListener(key.slice(2), value);
    else if (key === "className") element.className = value;
    else element.setAttribute(key, value === true ? "" : value);
  }
  element.append(...children.filter((child) => child !== null && child !== undefined));
  return element;
}

// A labelled control, with what it means below.
export function labelled(id, label, control, meaning = "") {
  control.id = id;
  const parts = [el("label", { for: id }, label), control];
  if (meaning) {
    control.setAttribute("aria-describedby", `${id}-meaning`);
    parts.push(el("p", { id: `${id}-meaning`, className: "meaning" }, meaning));
  }
  return el("div", { className: "field" }, ...parts);
}

export function choice(options, chosen) {
  return el("select", {}, ...options.map(([value, words]) => el("option", { value, selected: value === chosen }, words)));
}

export function button(words, onclick, properties = {}) {
  return el("button", { type: "button", onclick, ...properties }, words);
}

// A button that opens the choice of a file. The control itself stays reachable by keyboard.
export function fileButton(id, words, accept, onfile) {
  const input = el("input", {
    type: "file",
    id,
    accept,
    onchange: async () => {
      const [file] = input.files;
      input.value = "";
      if (file) onfile(file.name, new Uint8Array(await file.arrayBuffer()));
    },
  });
  return el("label", { className: "file", for: id }, words, input);
}

export function save(name, content, type = "text/plain") {
  const url = URL.createObjectURL(new Blob([content], { type }));
  el("a", { href: url, download: name }).click();
  setTimeout(() => URL.revokeObjectURL(url), 10_000);
}

// A report as a document of its own, without its style, which is this page's too.
function parsed(html) {
  return new DOMParser().parseFromString(html.replace(/<style>[^<]*<\/style>/, ""), "text/html");
}

// The body of a report or a piece of one, its headings one step lower and its names apart from those of other reports.
export function pieceOf(html, prefix) {
  const doc = parsed(html);
  const main = doc.querySelector("main") ?? doc.body;
  for (const unwanted of main.querySelectorAll("h1, footer, script")) unwanted.remove();
  const piece = document.createDocumentFragment();
  const patterns = doc.querySelector("body > svg");
  if (patterns) piece.append(document.importNode(patterns, true));
  for (const child of [...main.childNodes]) piece.append(document.importNode(child, true));
  for (const element of piece.querySelectorAll("*")) {
    if (element.id) element.id = `${prefix}-${element.id}`;
    for (const { name, value } of [...element.attributes]) {
      if (value.includes("url(#")) element.setAttribute(name, value.replaceAll("url(#", `url(#${prefix}-`));
    }
  }
  for (const level of [3, 2]) {
    for (const heading of piece.querySelectorAll(`h${level}`)) {
      heading.replaceWith(el(`h${level + 1}`, {}, ...heading.childNodes));
    }
  }
  for (const wide of piece.querySelectorAll(".scroll")) {
    wide.tabIndex = 0;
    wide.setAttribute("role", "region");
    if (!wide.hasAttribute("aria-label")) wide.setAttribute("aria-label", "Table");
  }
  return piece;
}

// The key numbers of a report: what it is, and its value.
export function tilesOf(html) {
  const doc = parsed(html);
  return [...doc.querySelectorAll(".tile")].map((tile) => [
    tile.querySelector(".label").textContent,
    tile.querySelector(".value").textContent,
  ]);
}
