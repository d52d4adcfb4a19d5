// The house a page is about: the texts of its files, and what was touched since they were opened.

export class House extends EventTarget {
  units = "si";
  // Name and text; an empty settings text lets them follow from the site.
  site = { name: "site.toml", text: "" };
  settings = { name: "settings.toml", text: "" };
  // Name and bytes of a file that stands in place of the built-in weather.
  weather = null;
  // What was last chosen under My log, with how it is to be read.
  log = null;
  // Files that the site names.
  files = [];
  #touched = { site: new Map(), settings: new Map() };
  #simulator;

  constructor(simulator, given) {
    super();
    this.#simulator = simulator;
    Object.assign(this, given);
  }

  // What a key is to be, as the file has it; without a value as it was.
  touch(file, section, name, value) {
    const key = `${section}\n${name}`;
    if (value === undefined) this.#touched[file].delete(key);
    else this.#touched[file].set(key, value);
    this.#changed();
  }

  touched(file, section, name) {
    return this.#touched[file].get(`${section}\n${name}`);
  }

  // What was touched, in words.
  get changes() {
    const all = [...this.#touched.settings, ...this.#touched.site];
    return all.map(([key, value]) => `${key.trim().replace("\n", ".")} = ${value}`).join(", ") || "as in the files";
  }

  untouch() {
    this.#touched.site.clear();
    this.#touched.settings.clear();
    this.#changed("opened");
  }

  open(file, name, text) {
    this[file] = { name, text };
    this.#touched[file].clear();
    this.#changed("opened");
  }

  openWeather(name, bytes) {
    this.weather = { name, bytes };
    this.#changed("opened");
  }

  setUnits(units) {
    this.units = units;
    this.#changed("opened");
  }

  #changed(kind = "changed") {
    this.dispatchEvent(new Event(kind));
  }

  // A file's text with only the touched keys changed.
  async text(file) {
    const edits = [...this.#touched[file]].map(([key, value]) => [...key.split("\n"), value]);
    const { text } = this[file];
    if (edits.length === 0) return text;
    // Settings that follow from the site stay so but for what was touched.
    const base = file === "settings" && text === "" ? await this.#following() : text;
    const answer = await this.#simulator.ask({ ask: "edit", text: base, edits });
    if (answer.refused) throw new Error(answer.refused);
    return answer.text;
  }

  async #following() {
    const site = await this.text("site");
    const put = [["site.toml", new TextEncoder().encode(site)]];
    const args = ["size", "--site", "site.toml", "--write-settings", "following.toml"];
    const ran = await this.#simulator.run(args, ["following.toml"], put);
    if (ran.refused) throw new Error(ran.refused);
    return ran.files["following.toml"];
  }

  // The arguments and the files of a command for this house.
  async asked({ settings = true, weather = false } = {}) {
    const bytes = (text) => new TextEncoder().encode(text);
    const files = [...this.files];
    const args = [];
    const site = await this.text("site");
    if (site !== "") {
      files.push([this.site.name, bytes(site)]);
      args.push("--site", this.site.name);
    }
    const text = settings ? await this.text("settings") : "";
    if (text !== "") {
      files.push([this.settings.name, bytes(text)]);
      args.push("--settings", this.settings.name);
    }
    if (this.weather) {
      files.push([this.weather.name, this.weather.bytes]);
      if (weather) args.push("--weather", this.weather.name);
    }
    if (this.units === "us") args.push("--units", "us");
    return { args, files };
  }
}
