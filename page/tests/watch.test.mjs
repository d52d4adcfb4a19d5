// The page of `host-sim watch` in a browser: HOST_SIM is the program, CHROMIUM the browser. No unit is there; what was told and logged before is.
import assert from "node:assert/strict";
import { spawn } from "node:child_process";
import { mkdtempSync, readFileSync, writeFileSync } from "node:fs";
import { createRequire } from "node:module";
import { tmpdir } from "node:os";
import { join } from "node:path";
import test from "node:test";

import { chromium } from "playwright-core";

const { HOST_SIM, CHROMIUM = "/usr/bin/chromium" } = process.env;
const AXE = readFileSync(createRequire(import.meta.url).resolve("axe-core/axe.min.js"), "utf8");
const RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"];

// A folder as a night without fire leaves it.
function house() {
  const folder = mkdtempSync(join(tmpdir(), "watch-"));
  const now = Date.now();
  const time = (minutes) => new Date(now - minutes * 60_000).toISOString();
  const rows = ["time_s,supply_c,return_c,slab_c,outdoor_c,circulator,boiler_call,time"];
  for (let minutes = 2_000; minutes > 5; minutes -= 1) {
    const fall = (2_000 - minutes) / 500;
    if (minutes > 900 && minutes < 950) continue;
    rows.push([120_000 - minutes * 60, 7, 6 - fall / 2, (5 - fall).toFixed(2), -8 - fall, minutes % 60 < 20 ? 1 : 0, 0, time(minutes)].join(","));
  }
  writeFileSync(join(folder, `log-${time(0).slice(0, 7)}.csv`), `${rows.join("\n")}\n`);
  const told = { id: 1, at: `${time(60).slice(0, 19)}+00:00[UTC]`, kind: "alarm", condition: "slab_cold", stage: "begins" };
  const message = { ...told, text: "Slab cold: <b>1.4 °C</b>.", remedy: "Light the boiler." };
  writeFileSync(join(folder, "messages.jsonl"), `${JSON.stringify({ message })}\n`);
  return folder;
}

test("what was told and the last days are read by anybody, and the page says when it is old", async (t) => {
  const watching = spawn(HOST_SIM, ["watch", "/no/such/port", "--folder", house(), "--page", "127.0.0.1:0"], {
    stdio: ["ignore", "ignore", "pipe"],
    env: { ...process.env, TZ: "UTC" },
  });
  const address = await new Promise((found) => {
    let said = "";
    watching.stderr.on("data", (more) => {
      said += more;
      const at = /http:\S+/.exec(said);
      if (at) found(at[0]);
    });
  });
  const browser = await chromium.launch({ executablePath: CHROMIUM, args: ["--no-sandbox", "--disable-gpu"] });
  t.after(async () => {
    watching.kill();
    await browser.close();
  });
  for (const colorScheme of ["light", "dark"]) {
    const context = await browser.newContext({ viewport: { width: 1100, height: 800 }, colorScheme });
    const page = await context.newPage();
    const heard = [];
    page.on("console", (message) => heard.push(`${message.type()}: ${message.text()}`));
    page.on("pageerror", (error) => heard.push(String(error)));
    page.on("request", (request) => {
      if (!request.url().startsWith(address)) heard.push(`request of ${request.url()}`);
    });
    await page.goto(address);
    const words = await page.textContent("main");
    for (const expected of ["Waiting", "No row has come from the unit yet.", "Slab cold: <b>1.4 °C</b>. Light the boiler.", "The last three days", "Watching since"]) {
      assert.ok(words.includes(expected), `${expected} is not in ${words}`);
    }
    assert.ok((await page.locator("figure svg").count()) >= 1);
    const session = await context.newCDPSession(page);
    await session.send("Runtime.evaluate", { expression: AXE });
    const found = await page.evaluate((rules) => globalThis.axe.run(document, { runOnly: rules }), RULES);
    assert.deepEqual(found.violations.map(({ id, nodes }) => `${id}: ${nodes[0].html.slice(0, 160)}`), [], colorScheme);
    for (const width of [360, 320]) {
      await page.setViewportSize({ width, height: 740 });
      assert.ok((await page.evaluate(() => document.documentElement.scrollWidth)) <= width, `wider than ${width} px`);
    }
    // Renewed at once by the box; a page that stands still asks for nothing.
    const renewed = page.waitForRequest(address);
    await page.locator("input[type=checkbox]").uncheck();
    await page.locator("input[type=checkbox]").check();
    await renewed;
    assert.deepEqual(heard, []);
    if (colorScheme === "dark") {
      watching.kill("SIGKILL");
      await page.locator("input[type=checkbox]").uncheck();
      await page.locator("input[type=checkbox]").check();
      await page.locator("text=did not answer: what stands here is older than that").waitFor();
    }
    await context.close();
  }
});
