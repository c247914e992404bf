/** @file Two tabs at once, and a task that outlives a reload and is stopped. */
import { mouse } from "../hands.ts";
import { clickPlate, goTo, plateShown, type Flow } from "../way.ts";

export const together: Flow = async (way) => {
  const { page, context } = way;
  const hands = mouse(page);
  await plateShown(page);

  // What is lettered in one tab stands in the other, and is undone from there.
  const second = await context.newPage();
  await second.goto(page.url());
  await plateShown(second);
  await page.keyboard.press("l");
  await clickPlate(page, 0.4, 0.7);
  await page.getByRole("region", { name: "Thing seen A" }).waitFor();
  const there = second.getByRole("button", { name: /^A, not tied/ });
  await there.waitFor();
  await second.getByRole("button", { name: "Undo" }).click();
  await there.waitFor({ state: "detached" });
  await page.getByRole("button", { name: /^A, not tied/ }).waitFor({ state: "detached" });

  // A task goes on through a reload, is seen in both tabs, and can be stopped.
  await goTo(page, hands, "Where");
  await page.getByRole("button", { name: "Find where the camera stood" }).click();
  const stop = page.getByRole("button", { name: /^Stop:/ });
  await stop.first().waitFor();
  await second
    .getByRole("button", { name: /^Stop:/ })
    .first()
    .waitFor();
  await page.reload();
  await stop.last().click();
  await stop.first().waitFor({ state: "detached" });
  await page.getByRole("button", { name: "Find where the camera stood" }).waitFor();
  await second.close();
};
