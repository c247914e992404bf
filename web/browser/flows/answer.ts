/** @file With an answer: read it, switch a thing off, test a claim, decide, hold it to the ground. */
import assert from "node:assert/strict";

import type { Page } from "playwright-core";

import { keyboard, type Hands } from "../hands.ts";
import { accessible, goTo, part, plateShown, type Way } from "../way.ts";

export const answerByKeyboard = (way: Way): Promise<void> => go(way, keyboard(way.page));

async function go({ page }: Way, hands: Hands): Promise<void> {
  await plateShown(page);
  await page.getByText(/located to \d+ m|several places remain|can’t be told/).waitFor();
  await goTo(page, hands, "Where");
  const told = page.getByRole("region", { name: "The answer" });
  await told.waitFor();
  assert.match(
    (await told.getByRole("heading").first().textContent()) ?? "",
    /stood here|Several places|can’t be told/,
  );
  await page.getByRole("application", { name: /^Map/ }).waitFor();
  const station = page.getByRole("button", { name: /^Camera position,/ });
  await station.waitFor();
  await accessible(page, "an answer");

  // One switch takes a thing out of the next run, and puts it back.
  const counts = page.getByRole("switch").first();
  if (await counts.count()) {
    await counts.focus();
    await counts.press("Space");
    await page.getByText(/switched off for the next run/).waitFor();
    await hands.press(page.getByRole("button", { name: "Put all back" }));
    await page.getByText(/switched off for the next run/).waitFor({ state: "hidden" });
  }

  // The camera moved by hand is said to be so, and goes back to the answer.
  await station.focus();
  await station.press("ArrowRight");
  await page.getByRole("button", { name: /^Camera position, placed by hand/ }).waitFor();
  await hands.press(page.getByRole("button", { name: "Back to the answer" }));
  await page.getByRole("button", { name: /^Camera position, looks/ }).waitFor();

  await decideAndCompare(page, hands);
}

/** A decision, in a person's words, undone and done again; then the comparison. */
export async function decideAndCompare(page: Page, hands: Hands): Promise<void> {
  await hands.press(part(page, "What a person decided"));
  await page.getByLabel("Why, in your words").fill("The hill is the only one of its shape.");
  await hands.press(page.getByRole("button", { name: "Record it" }));
  const decided = page.locator("blockquote").getByText("only one of its shape");
  await decided.waitFor();
  await page
    .getByText(/accepted by /)
    .first()
    .waitFor();
  await hands.press(page.getByRole("button", { name: "Undo" }));
  await decided.waitFor({ state: "detached" });
  await hands.press(page.getByRole("button", { name: "Do again" }));
  await decided.waitFor();

  // The comparison.
  await goTo(page, hands, "Against the ground");
  await page.getByText("From the answer’s camera position").waitFor();
  await plateShown(page);
}
