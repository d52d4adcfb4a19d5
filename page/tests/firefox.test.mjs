// The page in the other family of browsers: FIREFOX is the browser; PAGE and HOST_SIM as for the page's tests.
import assert from "node:assert/strict";
import { spawnSync } from "node:child_process";
import { resolve } from "node:path";
import test from "node:test";

import puppeteer from "puppeteer-core";

const { PAGE, HOST_SIM, FIREFOX = "/usr/bin/firefox-esr" } = process.env;
const RUNS_MS = 120_000;

async function until(page, condition, argument) {
  const end = Date.now() + RUNS_MS;
  while (!(await page.evaluate(condition, argument))) {
    if (Date.now() > end) throw new Error(`waited in vain: ${condition}; the page says ${await page.evaluate(() => document.body.innerText.slice(0, 600))}`);
    await new Promise((done) => setTimeout(done, 100));
  }
}

test("in Firefox an untouched winter is the program's, and nothing is asked for or complained of", async (t) => {
  const browser = await puppeteer.launch({ browser: "firefox", executablePath: FIREFOX, headless: true });
  t.after(() => browser.close());
  const page = await browser.newPage();
  const heard = [];
  page.on("console", (message) => heard.push(`${message.type()}: ${message.text()}`));
  page.on("pageerror", (error) => heard.push(String(error)));
  page.on("request", (request) => {
    if (!/^(file|blob|data):/.test(request.url())) heard.push(`request of ${request.url()}`);
  });
  await page.goto(`file://${resolve(PAGE)}#winter`);
  await until(page, () => document.querySelector("#fingerprint") !== null);
  await page.evaluate(() => {
    const [days, fingerprint] = [document.querySelector("#days"), document.querySelector("#fingerprint")];
    days.value = "14";
    days.dispatchEvent(new Event("input", { bubbles: true }));
    days.dispatchEvent(new Event("change", { bubbles: true }));
    fingerprint.click();
  });
  await until(page, () => /[0-9a-f]{64}/.test(document.querySelector(".fingerprint").textContent));
  const program = spawnSync(HOST_SIM, ["winter", "--days", "14", "--fingerprint", "--json"], { encoding: "utf8", env: { ...process.env, TZ: "UTC" } });
  const shown = await page.evaluate(() => document.querySelector(".fingerprint").textContent);
  assert.equal(shown, `Fingerprint of the trace (SHA-256): ${JSON.parse(program.stdout).trace_sha256}`);
  await page.goto(`file://${resolve(PAGE)}#loop`);
  await page.reload();
  await until(page, () => document.querySelector(".page:not([hidden]) .report .answer") !== null);
  assert.deepEqual(heard, []);
});
