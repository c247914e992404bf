/** @file The camera held by hand: against the ground, on the strip, beside the map. */
import { accessible, enter, plateIdOf, plateShown, type Flow } from "../way.ts";
import { standingThere } from "./standing-there.ts";

export const heldByHand: Flow = async (way) => {
  const { page } = way;
  await plateShown(page);
  const plateId = plateIdOf(page);
  await enter(page, "ground", plateId);
  await page.getByRole("button", { name: "Swipe" }).click();
  await page.getByRole("slider", { name: /terrain’s view begins/ }).waitFor();
  await page.getByRole("button", { name: "Horizon strip" }).click();
  const strip = page.getByRole("slider", { name: /^Bearing of the camera/ });
  await strip.focus();
  await strip.press("ArrowRight");
  await page.getByText("placed by hand").first().waitFor();
  await accessible(page, "against the ground, with the strip");
  await page.getByRole("button", { name: "Horizon strip" }).click();

  // The position dragged on the map: the strip follows, and says whose it is.
  await enter(page, "looking", plateId);
  await page.getByRole("button", { name: "Map", exact: true }).click();
  await page.getByRole("application", { name: /^Map/ }).waitFor();
  await page.getByRole("button", { name: "Horizon strip" }).click();
  await page.getByRole("slider", { name: /^Bearing/ }).waitFor();
  const station = page.getByRole("button", { name: /^Camera position/ });
  await station.waitFor();
  const from = await station.boundingBox();
  if (!from) throw new Error("the camera position is not on the map");
  const [x, y] = [from.x + from.width / 2, from.y + from.height / 2];
  const heard = page.waitForResponse((answer) => answer.url().includes("/horizon?"));
  await page.mouse.move(x, y);
  await page.mouse.down();
  await page.mouse.move(x + 40, y + 20, { steps: 4 });
  await page.mouse.up();
  await heard;
  await page.getByRole("button", { name: /^Camera position, placed by hand/ }).waitFor();
  await page.getByRole("button", { name: "Keys", exact: true }).click();
  await page.getByRole("region", { name: "Keys" }).waitFor();
  await accessible(page, "map, strip and keys");
  await page.keyboard.press("Escape");
  await standingThere(way);
};
