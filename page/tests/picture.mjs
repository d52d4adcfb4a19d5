// Draws the page's winter for docs: node picture.mjs try.html page.png
import { resolve } from "node:path";

import { chromium } from "playwright-core";

const [file, picture] = process.argv.slice(2);
const browser = await chromium.launch({ executablePath: process.env.CHROMIUM ?? "/usr/bin/chromium", args: ["--no-sandbox", "--disable-gpu"] });
const page = await browser.newPage({ viewport: { width: 1000, height: 900 } });
await page.goto(`file://${resolve(file)}#winter`);
// The answer is there when it can be saved.
await page.getByRole("button", { name: "Save this report" }).waitFor({ timeout: 120_000 });
await page.screenshot({ path: picture });
await browser.close();
