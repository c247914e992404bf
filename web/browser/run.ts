/** @file Go one way through the page in a real browser: `node run.ts FLOW ADDRESS [key=value…]`. */
import { chromium } from "playwright-core";

import { answerByKeyboard } from "./flows/answer.ts";
import { everyView } from "./flows/every-view.ts";
import { byKeyboard, firstCase } from "./flows/first-case.ts";
import { heldByHand } from "./flows/held-by-hand.ts";
import { keyboard } from "./flows/keyboard.ts";
import { programGone } from "./flows/program-gone.ts";
import { together } from "./flows/together.ts";
import { whenExposed } from "./flows/when-exposed.ts";
import type { Flow, Way } from "./way.ts";

const FLOWS: Record<string, Flow> = {
  "first-case": firstCase,
  "first-case-by-keyboard": byKeyboard,
  "answer-by-keyboard": answerByKeyboard,
  "every-view": everyView,
  "held-by-hand": heldByHand,
  keyboard,
  "program-gone": programGone,
  together,
  "when-exposed": whenExposed,
};
const [name = "", address = "", ...rest] = process.argv.slice(2);
const flow = FLOWS[name];
if (!flow) throw new Error(`There is no flow ${name}; there are ${Object.keys(FLOWS).join(", ")}.`);
const given = Object.fromEntries(rest.map((one) => one.split(/=(.*)/s).slice(0, 2)));

const browser = await chromium.launch({
  executablePath: process.env.CHROMIUM ?? "/usr/bin/chromium",
  args: ["--no-sandbox", "--disable-gpu"],
});
const context = await browser.newContext({ viewport: { width: 1280, height: 720 } });
context.setDefaultTimeout(Number(given.patience_s ?? 90) * 1000);
const page = await context.newPage();
const home = new Set([new URL(address).origin]);
const way: Way = { browser, context, page, address, home, given };
const troubles: string[] = [];
const elsewhere: string[] = [];
context.on("weberror", (error) => troubles.push(error.error().message));
context.on("request", (request) => {
  const url = new URL(request.url());
  if (url.protocol.startsWith("http") && !way.home.has(url.origin)) elsewhere.push(request.url());
});
try {
  await page.goto(address);
  await page.waitForURL((url) => url.search === "");
  await flow(way);
  if (troubles.length) throw new Error(`The page broke: ${troubles.join("; ")}`);
  if (elsewhere.length) throw new Error(`The page asked other hosts: ${elsewhere.join(", ")}`);
} catch (reason) {
  if (given.shots)
    await page.screenshot({ path: `${given.shots}/${name}.png` }).catch(() => undefined);
  const said = page.locator("[role=alert], [role=status]").allInnerTexts();
  console.error("What the page says:", await said.catch(() => []), troubles);
  throw reason;
} finally {
  await browser.close();
}
