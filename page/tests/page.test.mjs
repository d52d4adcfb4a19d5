// The page in a browser: PAGE is the file, DATA the folder with the program's data, CHROMIUM the browser, HOST_SIM the program.
import assert from "node:assert/strict";
import { spawnSync } from "node:child_process";
import { mkdtempSync, readFileSync, writeFileSync } from "node:fs";
import http from "node:http";
import { createRequire } from "node:module";
import { tmpdir } from "node:os";
import { join, resolve } from "node:path";
import test, { after, before } from "node:test";

import { chromium } from "playwright-core";

const { PAGE, DATA, HOST_SIM, CHROMIUM = "/usr/bin/chromium" } = process.env;
const AXE = readFileSync(createRequire(import.meta.url).resolve("axe-core/axe.min.js"), "utf8");
const folder = mkdtempSync(join(tmpdir(), "page-"));
const RUNS_MS = 60_000;
const PAGES = ["house", "loop", "winter", "tonight", "log", "lay", "faults", "live"];

let browser;
before(async () => {
  const quiet = ["--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking", "--disable-component-update", "--disable-sync"];
  browser = await chromium.launch({ executablePath: CHROMIUM, args: ["--no-sandbox", ...quiet] });
});
after(() => browser?.close());

// A page of its own, which must neither ask for anything, nor break its policy, nor complain.
async function opened(test, { hash = "", file = PAGE, address = `file://${resolve(file)}`, viewport = { width: 1100, height: 800 }, before } = {}) {
  const context = await browser.newContext({ viewport, acceptDownloads: true });
  const page = await context.newPage();
  const heard = [];
  page.on("console", (message) => heard.push(`${message.type()}: ${message.text()}`));
  page.on("pageerror", (error) => heard.push(String(error)));
  page.on("request", (request) => {
    if (!/^(blob|data):/.test(request.url()) && request.url() !== `${address}${hash}` && request.url() !== address) heard.push(`request of ${request.url()}`);
  });
  if (before) await page.addInitScript(before.script, before.argument);
  await page.addInitScript(() => {
    window.violations = [];
    document.addEventListener("securitypolicyviolation", (event) => window.violations.push(`${event.violatedDirective} ${event.blockedURI}`));
  });
  test.after(async () => {
    await context.close();
  });
  await page.goto(`${address}${hash}`);
  await until(page, () => document.querySelector(".page") !== null);
  page.assertQuiet = async () => assert.deepEqual([...heard, ...(await page.evaluate(() => window.violations))], []);
  return page;
}

// The page's policy forbids evaluated text, so conditions are asked for again and again.
async function until(page, condition, argument) {
  const end = Date.now() + RUNS_MS;
  while (!(await page.evaluate(condition, argument))) {
    if (Date.now() > end) {
      const words = await page.evaluate(() => [...document.querySelectorAll("[role=status]")].map((place) => place.textContent));
      throw new Error(`waited in vain: ${condition}; the page says ${JSON.stringify(words)}`);
    }
    await new Promise((done) => setTimeout(done, 50));
  }
}

// Waits for an answer that is no older than the last change, and gives its status.
async function answered(page) {
  await until(page, () => {
    const result = document.querySelector(".page:not([hidden]) .result");
    const body = result?.querySelector(".report");
    return result && body.querySelector(".answer") && !body.classList.contains("old") && result.querySelector(".tools button");
  });
  return page.textContent(".page:not([hidden]) .status");
}

function program(args) {
  return spawnSync(HOST_SIM, args, { cwd: folder, encoding: "utf8", env: { ...process.env, TZ: "UTC" } });
}

test("from a disk and from a server: the design check is the program's, nothing is asked for", async (t) => {
  const words = program(["size", "--report", "size.html"]);
  assert.equal(words.status, 0, words.stderr);
  const sentence = /class="sentence"><b>[^<]*<\/b>([^<]*)/.exec(readFileSync(join(folder, "size.html"), "utf8"))[1];
  const server = http.createServer((request, response) => {
    response.setHeader("content-type", "text/html");
    response.end(readFileSync(PAGE));
  });
  await new Promise((done) => server.listen(0, "127.0.0.1", done));
  t.after(() => server.close());
  for (const address of [undefined, `http://127.0.0.1:${server.address().port}/`]) {
    const page = await opened(t, { hash: "#loop", address });
    const status = await answered(page);
    const plain = await page.evaluate((html) => new DOMParser().parseFromString(html, "text/html").body.textContent, sentence);
    assert.ok(status.includes(plain), `${status} / ${plain}`);
    await page.assertQuiet();
  }
});

test("an untouched winter is the program's, and a run kept stands beside the next", async (t) => {
  const page = await opened(t, { hash: "#winter" });
  await page.click("text=When, and what else");
  await page.fill("#days", "28");
  await page.check("#fingerprint");
  await until(page, () => document.querySelector(".fingerprint").textContent !== "");
  await answered(page);
  const numbers = JSON.parse(program(["winter", "--days", "28", "--fingerprint", "--json"]).stdout);
  assert.equal(await page.textContent(".fingerprint"), `Fingerprint of the trace (SHA-256): ${numbers.trace_sha256}`);
  // A slider by keyboard: the key changes, the answer ages and is renewed, and the other keys stay as they are.
  await page.click("text=Keep this run to compare with");
  const slider = "#fav-house-glazing_u_value";
  await page.focus(slider);
  const before = await page.inputValue(slider);
  for (let times = 0; times < 20; times += 1) await page.keyboard.press("ArrowRight");
  assert.notEqual(await page.inputValue(slider), before);
  assert.match(await page.getAttribute(slider, "aria-valuetext"), /^[\d.]+ W\/m²K$/);
  await until(page, () => document.querySelector(".report.old") !== null);
  await answered(page);
  assert.match(await page.textContent("text=Beside the kept run >> xpath=following-sibling::*[1]"), /differs/);
  assert.equal(await page.locator(".key .changed:visible").count(), 1);
  await page.assertQuiet();
});

test("tonight says whether to light the fire", async (t) => {
  const page = await opened(t, { hash: "#tonight" });
  await page.click("text=Fill in an example");
  await page.click("button:text-is('Ask')");
  const status = await answered(page);
  assert.match(status, /light the fire/i);
  assert.match(await page.textContent(".page:not([hidden]) .report"), /kg/);
  await page.assertQuiet();
});

test("a rehearsal shows its night", async (t) => {
  const page = await opened(t, { hash: "#faults" });
  await until(page, () => document.querySelector("#drill").options.length > 10);
  await page.click("text=Watch it");
  assert.notEqual(await answered(page), "");
  assert.ok((await page.locator(".page:not([hidden]) .report svg").count()) > 0);
  await page.assertQuiet();
});

async function dropped(page, name, text) {
  await page.setInputFiles("#open-log", { name, mimeType: "text/csv", buffer: Buffer.from(text) });
}

test("a dropped log is replayed as the program replays it; strange columns are chosen, not guessed", async (t) => {
  const log = readFileSync(join(DATA, "demo-week.csv"), "utf8");
  writeFileSync(join(folder, "demo-week.csv"), log);
  program(["replay", "demo-week.csv", "--report", "replay.html"]);
  const tiles = [...readFileSync(join(folder, "replay.html"), "utf8").matchAll(/class="value">([^<]*)/g)].map((found) => found[1]);
  const page = await opened(t, { hash: "#log" });
  await dropped(page, "demo-week.csv", log);
  await answered(page);
  assert.deepEqual(await page.locator(".page:not([hidden]) .report .tile .value").allTextContents(), tiles);
  // The same week under another logger's names.
  await dropped(page, "other.csv", log.replace(/^.*\n/, "When,T flow,T back,Floor,Out,Air,Cellar,Pump,Fire\n"));
  await until(page, () => document.querySelector(".page:not([hidden]) .status").textContent.startsWith("This cannot be used"));
  assert.match(await page.textContent(".page:not([hidden]) .status"), /other\.csv.*no.*time/is);
  for (const [label, header] of [["Time", "When"], ["Supply: the water from the store to the slab", "T flow"], ["Slab", "Floor"]]) {
    const control = page.getByLabel(`Column of: ${label}`, { exact: true });
    assert.equal(await control.inputValue(), "");
    await control.selectOption(header);
  }
  await page.click("button:text-is('Replay')");
  await answered(page);
  assert.match(await page.textContent("code"), /--column "supply_c=T flow" --column slab_c=Floor/);
  // A broken row: the program's message with line and column.
  await dropped(page, "broken.csv", "time,slab_c\n2025-01-01 00:00,4\n2025-01-01 00:01,four\n");
  await until(page, () => document.querySelector(".page:not([hidden]) .status").textContent.includes("broken.csv"));
  writeFileSync(join(folder, "broken.csv"), "time,slab_c\n2025-01-01 00:00,4\n2025-01-01 00:01,four\n");
  const refused = program(["replay", "broken.csv"]).stderr.replace(/^host-sim: /, "").trim();
  assert.equal(await page.textContent(".page:not([hidden]) .status"), `This cannot be used: ${refused}`);
  await page.assertQuiet();
});

test("a floor is drawn as the program draws it, its sheets are saved, and its tube goes into the house", async (t) => {
  const page = await opened(t, { hash: "#lay" });
  await page.fill("#spacing", "0.25 m");
  await page.click("text=Draw it");
  const drawn = () => {
    const result = document.querySelector(".page:not([hidden]) .result");
    return result.querySelector(".report svg") && !result.querySelector(".report").classList.contains("old");
  };
  await until(page, drawn);
  program(["lay", "--spacing", "0.25 m", "--write-pdf", "plan.pdf", "--write-site", "drawn.toml"]);
  const saved = async (words) => {
    const [download] = await Promise.all([page.waitForEvent("download"), page.click(`text=${words}`)]);
    return readFileSync(await download.path());
  };
  const pdf = await saved("Save sheets to print");
  assert.equal(pdf.subarray(0, 5).toString(), "%PDF-");
  // The sheets say the day they were made, by this place's clock.
  assert.equal(pdf.length, readFileSync(join(folder, "plan.pdf")).length);
  await page.click("text=Take this tube into My house");
  await until(page, () => document.querySelector(".page:not([hidden]) .status").textContent.includes("as drawn"));
  await page.evaluate(() => (location.hash = "#house"));
  assert.equal((await saved("Save the site file")).toString(), readFileSync(join(folder, "drawn.toml"), "utf8"));
  await page.assertQuiet();
});

// What a unit says on its line: CRC-16 with the polynomial 0x1021 from 0xffff, as docs/serial-line.md has it, written apart.
function sealed(text) {
  let sum = 0xffff;
  for (const byte of Buffer.from(text)) {
    sum ^= byte << 8;
    for (let bit = 0; bit < 8; bit += 1) sum = sum & 0x8000 ? ((sum << 1) ^ 0x1021) & 0xffff : (sum << 1) & 0xffff;
  }
  return `${text}~${sum.toString(16).padStart(4, "0")}\r\n`;
}

// A port in the browser's place: it answers questions, and the test hands over what else it says.
const port = ({ columns, status }) => {
  window.asked = "";
  const stream = () => new ReadableStream({ start: (controller) => (window.unit = controller) });
  window.unplug = (isGone) => {
    const { unit } = window;
    fake.readable = isGone ? null : stream();
    unit.error(new Error(isGone ? "The device has been lost." : "A break was heard."));
  };
  const fake = {
    open: async ({ baudRate }) => {
      window.baud = baudRate;
      fake.readable = stream();
      fake.writable = new WritableStream({
        write: (bytes) => {
          const text = new TextDecoder().decode(bytes);
          window.asked += text;
          for (const [word, answer] of [["status", status], ["columns", columns]]) {
            if (text.includes(word)) window.unit.enqueue(new TextEncoder().encode(answer));
          }
        },
      });
    },
    close: async () => {},
  };
  Object.defineProperty(navigator, "serial", { value: { requestPort: async () => fake } });
};

test("a unit at the serial port is shown and kept, damage is counted, a pulled cable is told, and it is only asked", async (t) => {
  program(["winter", "--from", "2026-01-10", "--days", "1", "--trace", "trace.csv"]);
  const [header, ...rows] = readFileSync(join(folder, "trace.csv"), "utf8").trim().split("\n");
  const argument = { columns: sealed(`columns ${header}`), status: sealed("status version=1.0 board=pico build=abc held=0 lines_lost=0") };
  const page = await opened(t, { hash: "#live", before: { script: port, argument } });
  const says = (text) => page.evaluate((said) => window.unit.enqueue(new TextEncoder().encode(said)), text);
  await page.click("text=Connect a unit");
  await until(page, () => window.asked?.includes("columns"));
  const spoken = rows.slice(3_000, 3_040);
  for (const row of spoken) await says(sealed(`row ${row}`));
  await says(sealed(`row ${rows[3_040]}`).replace("row", "rov"));
  await until(page, () => /page: 40, .* used: 1\.$/.test(document.querySelector(".page:not([hidden]) .meaning").textContent));
  const slab = Number(spoken.at(-1).split(",")[header.split(",").indexOf("slab_c")]);
  const report = await page.textContent(".page:not([hidden]) .report");
  assert.ok(report.includes(`The slab is at ${slab.toFixed(1)} °C`), report.slice(0, 300));
  // What was kept is a log that the program takes.
  const [download] = await Promise.all([page.waitForEvent("download"), page.click("text=Save the log")]);
  const log = readFileSync(await download.path(), "utf8");
  assert.ok(log.startsWith(`# firmware version=1.0 board=pico build=abc\n${header},time\n${spoken[0]},20`), log.slice(0, 400));
  writeFileSync(join(folder, "unit.csv"), log);
  assert.equal(JSON.parse(program(["replay", "unit.csv", "--json"]).stdout).rows, spoken.length);
  const status = (begins) => until(page, (words) => document.querySelector(".page:not([hidden]) .status").textContent.startsWith(words), begins);
  await status("Connected. Nothing is wrong");
  // A break gives a new stream, a pulled cable none.
  await page.evaluate(() => window.unplug(false));
  await says(sealed(`row ${rows[3_041]}`));
  await until(page, () => document.querySelector(".page:not([hidden]) .meaning").textContent.includes("page: 41,"));
  await page.evaluate(() => window.unplug(true));
  await status("The port is gone");
  await page.click("text=Connect a unit");
  await status("Connected. Nothing is wrong");
  await page.click("text=Begin a new log");
  await says(sealed(`row ${rows[3_042]}`));
  await until(page, () => document.querySelector(".page:not([hidden]) .meaning").textContent.includes("page: 1,"));
  await page.click("text=Disconnect");
  await status("Disconnected");
  assert.equal((await page.evaluate(() => window.asked)).replaceAll(/(status|columns)~[0-9a-f]{4}\r\n/g, ""), "");
  assert.equal(await page.evaluate(() => window.baud), 115_200);
  await page.assertQuiet();
});

test("hostile texts are shown as text", async (t) => {
  const evil = '<img src=x onerror="window.broken=1"><script>window.broken=1</script>';
  const file = join(folder, "evil.html");
  writeFileSync(join(folder, "evil.toml"), `# </script><script>window.broken=1</script><!--\n[place]\nname = '${evil}'\n`);
  const ran = program(["page", "--write", file, "--site", "evil.toml", "--simulator", resolve(process.env.SIMULATOR)]);
  assert.equal(ran.status, 0, ran.stderr);
  const page = await opened(t, { file, hash: "#loop" });
  await answered(page);
  assert.ok((await page.textContent(".page:not([hidden]) .report")).includes("<img src=x"));
  await page.evaluate(() => (location.hash = "#log"));
  await until(page, () => document.querySelector("#open-log") !== null);
  await dropped(page, `${evil.replaceAll("/", "")}.csv`, `time,slab_c,${evil.replaceAll('"', "'")}\n2025-01-01 00:00,4,1\n2025-01-01 00:01,4,1\n`);
  await answered(page);
  assert.equal(await page.evaluate(() => window.broken), undefined);
  await page.assertQuiet();
});

test("after a trap the page says so, keeps the last answer and goes on", async (t) => {
  // Only the worker's text, which the policy does not fix, is another: one wish makes it hand over a place that is none.
  const file = join(folder, "trap.html");
  const html = readFileSync(PAGE, "utf8");
  const changed = html.replace("function ask(question) {", 'function ask(question) {\n  if (JSON.stringify(question).includes("66 °C")) simulator.call(0xfffffff0, 64);');
  assert.notEqual(changed, html);
  writeFileSync(file, changed);
  const page = await opened(t, { file, hash: "#loop" });
  const before = await answered(page);
  await page.fill("#hold", "66 °C");
  await until(page, () => document.querySelector(".page:not([hidden]) .status").textContent.includes("stopped by a fault of its own"));
  assert.ok(await page.locator(".report.old .answer").count());
  await page.fill("#hold", "2 °C");
  assert.equal(await answered(page), before);
  await page.assertQuiet();
});

test("the site file keeps what nobody touched", async (t) => {
  const text = '# mine\n[house]\nair_changes = "0.9346 1/h"\nwidth = "3.3333 m"\n';
  const page = await opened(t, { hash: "#house" });
  await page.setInputFiles("#open-site", { name: "mine.toml", mimeType: "text/plain", buffer: Buffer.from(text) });
  await until(page, () => document.body.textContent.includes("The house of mine.toml"));
  const saved = async () => {
    const [download] = await Promise.all([page.waitForEvent("download"), page.click("text=Save the site file")]);
    return readFileSync(await download.path(), "utf8");
  };
  assert.equal(await saved(), text);
  await page.fill("#search", "air changes");
  const number = page.getByLabel("air changes, 1/h").first();
  assert.equal(await number.inputValue(), "0.9346");
  await number.fill("1.25");
  assert.equal(await saved(), text.replace("0.9346", "1.25"));
  await page.assertQuiet();
});

test("every page: labels, contrast, no sideways scroll, light and dark", async (t) => {
  const page = await opened(t, { viewport: { width: 360, height: 740 } });
  for (const hash of PAGES) {
    await page.evaluate((to) => (location.hash = to), `#${hash}`);
    await until(page, (to) => document.querySelector("[aria-current]").hash === to, `#${hash}`);
    if (hash === "loop" || hash === "winter") await answered(page);
    await page.evaluate(() => document.querySelectorAll(".page:not([hidden]) details").forEach((details) => (details.open = true)));
    for (const colorScheme of ["light", "dark"]) {
      await page.emulateMedia({ colorScheme });
      const session = await page.context().newCDPSession(page);
      await session.send("Runtime.evaluate", { expression: AXE });
      const found = await page.evaluate(() => globalThis.axe.run(document, { runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"] }));
      const violations = found.violations.map(({ id, nodes }) => `${id}: ${nodes.slice(0, 3).map(({ html }) => html.slice(0, 120)).join(" | ")}`);
      assert.deepEqual(violations, [], `${hash}, ${colorScheme}`);
    }
    for (const width of [360, 320]) {
      await page.setViewportSize({ width, height: 740 });
      const wide = await page.evaluate(() => document.documentElement.scrollWidth);
      assert.ok(wide <= width, `${hash} is ${wide} px wide at ${width} px`);
    }
  }
  await page.assertQuiet();
});
