// The WebAssembly by itself gives what the program on a PC gives, to the last digit. SIMULATOR, HOST_SIM and DATA name the module,
// the program, and the folder with its data.
import assert from "node:assert/strict";
import { spawnSync } from "node:child_process";
import { mkdtempSync, readFileSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import test from "node:test";

import { simulator } from "./wasm.mjs";

const { SIMULATOR, HOST_SIM, DATA } = process.env;
const folder = mkdtempSync(join(tmpdir(), "page-"));
const weather = readFileSync(join(DATA, "golden-co-724666-tmy3.epw"));
const log = readFileSync(join(DATA, "demo-week.csv"));
writeFileSync(join(folder, "demo-week.csv"), log);

function fresh(files = {}) {
  const wasm = simulator(SIMULATOR);
  wasm.put("built-in weather.epw", weather);
  wasm.ask({ ask: "clock", seconds: 1_764_000_000, zone: "UTC", running_ms: 0 });
  for (const [name, text] of Object.entries(files)) {
    writeFileSync(join(folder, name), text);
    wasm.put(name, new TextEncoder().encode(text));
  }
  return wasm;
}

// The program in a folder with the same files.
function program(args) {
  const ran = spawnSync(HOST_SIM, args, { cwd: folder, encoding: "utf8", env: { ...process.env, TZ: "UTC" } });
  return { code: ran.status, printed: ran.stdout, refused: ran.stderr.replace(/^host-sim: /, "").trimEnd() };
}

function same(wasm, args) {
  const { code, printed, refused } = wasm.run(args);
  assert.deepEqual({ code, printed, refused: refused.trimEnd() }, program(args));
  return printed;
}

test("it asks for nothing from outside", () => {
  assert.deepEqual(WebAssembly.Module.imports(simulator(SIMULATOR).module), []);
});

const SITE = '[house]\nglazing_u_value = "4.1 W/m²K"\nair_changes = "0.9 1/h"\n[earth]\nmean = "8.6 °C"\n';
const SETTINGS = 'slab_set = "4.4 °C"\n';

test("a winter of thirty days is the program's, every key as text, in weekly pieces too", () => {
  const wasm = fresh({ "site.toml": SITE, "settings.toml": SETTINGS });
  const args = ["winter", "--site", "site.toml", "--settings", "settings.toml", "--from", "2025-12-01", "--days", "30", "--json"];
  const printed = same(wasm, args);
  assert.ok(Object.keys(JSON.parse(printed)).length > 30);
  assert.equal(wasm.ask({ ask: "winter", args: [...args, "--report", "report.html"] }).refused, null);
  let grown;
  do {
    grown = wasm.ask({ ask: "advance", days: 7, picture: true });
    assert.equal(grown.days < grown.of, grown.picture !== null);
  } while (grown.days < grown.of);
  assert.equal(grown.of, 30);
  const ended = wasm.ask({ ask: "end", compares: false, take: ["report.html"] });
  assert.equal(ended.printed, printed);
  assert.match(ended.files["report.html"], /<svg /);
});

test("the trace of a week has the program's fingerprint", () => {
  const printed = same(fresh(), ["winter", "--from", "2026-01-10", "--days", "7", "--fingerprint", "--json"]);
  assert.match(JSON.parse(printed).trace_sha256, /^[0-9a-f]{64}$/);
});

test("design check, tonight, rehearsals, replay and files are the program's", () => {
  const wasm = fresh({ "site.toml": SITE });
  wasm.put("demo-week.csv", log);
  same(wasm, ["size", "--site", "site.toml", "--json"]);
  same(wasm, ["size", "--units", "us"]);
  const readings = ["--slab", "6 C", "--store", "8 C", "--outdoor", "-2 C", "--now", "2025-01-15 18:00"];
  same(wasm, ["tonight", "--low", "-9 C", "--high", "-1 C", "--clear", ...readings, "--nights", "40", "--json"]);
  const { drills } = JSON.parse(same(wasm, ["drill", "--list", "--json"]));
  same(wasm, ["drill", "--drill", drills[0].name]);
  same(wasm, ["replay", "demo-week.csv", "--json"]);
  same(wasm, ["site", "--units", "us"]);
  same(wasm, ["settings", "--all"]);
});

test("what cannot be used is refused in the program's words", () => {
  const wasm = fresh({ "site.toml": '[house]\nwidth = "3.6 kg"\n', "log.csv": "time,slab_c\n2025-01-01 00:00,4\n2025-01-01 00:01,x\n" });
  for (const args of [
    ["size", "--site", "site.toml"],
    ["replay", "log.csv"],
    ["winter", "--days", "900"],
    ["winter", "--cold-snap", "6 K"],
    ["tonight", "--low", "-9 C", "--high", "-1 C"],
    ["drill", "--drill", "no-such"],
  ]) {
    same(wasm, args);
  }
  assert.match(wasm.run(["size", "--site", "gone.toml"]).refused, /^gone\.toml: cannot be read/);
  assert.match(wasm.run(["size", "--report", "site.toml", "--site", "site.toml"]).refused, /^site\.toml/);
});

test("a value nobody touched stays as the file has it, to the letter", () => {
  const wasm = fresh();
  const text = "# mine\n[house]\nair_changes = \"0.9346 1/h\"  # blower door\nedge_loss = \"0.93 W/mK\"\n";
  const edits = [["house", "edge_loss", '"0.8 W/mK"']];
  assert.equal(wasm.ask({ ask: "edit", text, edits }).text, text.replace("0.93 W", "0.8 W"));
  assert.equal(wasm.ask({ ask: "edit", text, edits: [] }).text, text);
});

test("every key has its meaning and its range", () => {
  const keys = fresh().ask({ ask: "keys", units: "us", site: SITE, settings: "" });
  assert.ok(keys.site.length > 150 && keys.settings.length > 40, `${keys.site.length}, ${keys.settings.length}`);
  for (const { name, meaning, kind } of [...keys.site, ...keys.settings]) {
    assert.notEqual(meaning, "", name);
    if (kind.is === "number") assert.ok(kind.possible[0] < kind.possible[1], name);
  }
});
