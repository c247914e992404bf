/** @file Take the pictures of docs/rooms.md: `node pictures.ts ADDRESS FOLDER [SIZE…] [SCHEME…] [VIEW…]`.
 *
 * ADDRESS is what `wherestood serve` printed for a daybook whose one plate has an answer, as the
 * demo's; with no daybook open it is Welcome whose pictures are taken, and of several plates, all
 * of one panorama, what is told of that. Sizes are written 1440x900, schemes light and dark; all of them unless told.
 */
import { mkdirSync, writeFileSync } from "node:fs";

import { chromium, type Page } from "playwright-core";

import { enter, follow, plateShown, settled } from "./way.ts";

const [address = "", folder = "", ...wanted] = process.argv.slice(2);
const views = wanted.filter((one) => !one.includes("x") && one !== "light" && one !== "dark");
const sizes = wanted.filter((one) => one.includes("x"));
const schemes = wanted.filter((one) => one === "light" || one === "dark");
const SIZES = (sizes.length ? sizes : ["1440x900", "1280x720"]).map((size) => {
  const [width = 0, height = 0] = size.split("x").map(Number);
  return { width, height };
});
const SCHEMES = (schemes.length ? schemes : ["light", "dark"]) as ("light" | "dark")[];

/** What each picture shows: a room, and what is called in it. */
const VIEWS: Record<string, (page: Page, plateId: string) => Promise<void>> = {
  plates: (page) => enter(page, "plates"),
  looking: async (page, id) => {
    await enter(page, "looking", id);
    await press(page, "Skyline");
  },
  "looking-map": async (page, id) => {
    await enter(page, "looking", id);
    await press(page, "Map");
    await press(page, "Horizon strip");
    await page.getByRole("application", { name: /^Map/ }).waitFor();
    await page.locator("canvas[data-known=yes]").waitFor();
  },
  where: async (page, id) => {
    await enter(page, "where", id);
    await page.getByRole("button", { name: /^Camera position,/ }).waitFor();
  },
  ground: (page, id) => enter(page, "ground", id),
  when: (page, id) => enter(page, "when", id),
  leads: (page, id) => enter(page, "leads", id),
  visit: (page, id) => enter(page, "visit", id),
  handover: (page, id) => enter(page, "handover", id),
  keys: async (page, id) => {
    await enter(page, "looking", id);
    await press(page, "Keys");
  },
};

/** The same of a daybook whose plates are of one panorama. */
const TOGETHER: typeof VIEWS = {
  "panorama-looking": async (page, id) => {
    await enter(page, "looking", id);
    await press(page, "Seen on both");
    const beside = page.getByRole("application", { name: "Another picture" });
    await beside.locator("canvas").first().waitFor();
  },
  "panorama-where": async (page, id) => {
    await enter(page, "where", id);
    await page.getByRole("region", { name: "The plates together" }).locator("img").waitFor();
  },
};

/** How well the pictures are kept; text stays sharp, and forty of them are 3 MB. */
const QUALITY = 0.8;

mkdirSync(folder, { recursive: true });
const browser = await chromium.launch({
  executablePath: process.env.CHROMIUM ?? "/usr/bin/chromium",
  args: ["--no-sandbox", "--disable-gpu"],
});
try {
  const context = await browser.newContext();
  context.setDefaultTimeout(3_000_000);
  const page = await context.newPage();
  const packer = await context.newPage();
  follow(page);
  await page.goto(address);
  await page.waitForURL((url) => url.search === "");
  const open = await page.evaluate(
    async () => (await (await fetch("/api/state")).json()).daybook !== null,
  );
  const [first, ...more] = open ? await cardsOf(page) : [];
  const plateId = first ?? "";
  const shown = open ? (more.length ? TOGETHER : VIEWS) : { welcome };
  for (const size of SIZES)
    for (const colorScheme of SCHEMES) {
      await page.setViewportSize(size);
      await page.emulateMedia({ colorScheme });
      for (const [name, show] of Object.entries(shown)) {
        if (views.length && !views.includes(name)) continue;
        await page.goto("about:blank");
        await page.goto(`${new URL(address).origin}/#/plates`);
        await show(page, plateId);
        if (name !== "plates" && open) await plateShown(page);
        await settled(page);
        const path = `${folder}/${name}-${size.width}-${colorScheme}.webp`;
        writeFileSync(path, await packed(packer, await page.screenshot()));
        console.log(name, size.width, colorScheme);
      }
    }
} finally {
  await browser.close();
}

async function cardsOf(page: Page): Promise<string[]> {
  return page.evaluate(async () => {
    const { cards } = await (await fetch("/api/plates")).json();
    return (cards as { id: string }[]).map(({ id }) => id);
  });
}

async function welcome(page: Page): Promise<void> {
  await page.getByText("Where did the camera stand?").waitFor();
}

async function press(page: Page, name: string): Promise<void> {
  await page.getByRole("button", { name, exact: true }).click();
}

/** Pack a picture as WebP, which the browser itself can. */
async function packed(page: Page, picture: Buffer): Promise<Buffer> {
  const data = await page.evaluate(
    async ([png, quality]) => {
      const image = await createImageBitmap(
        new Blob([Uint8Array.from(atob(png), (letter) => letter.charCodeAt(0))]),
      );
      const canvas = new OffscreenCanvas(image.width, image.height);
      canvas.getContext("2d")?.drawImage(image, 0, 0);
      const blob = await canvas.convertToBlob({ type: "image/webp", quality });
      const bytes = new Uint8Array(await blob.arrayBuffer());
      return btoa(Array.from(bytes, (byte) => String.fromCharCode(byte)).join(""));
    },
    [picture.toString("base64"), QUALITY] as const,
  );
  return Buffer.from(data, "base64");
}
