/** @file How the copy is shown: for looking only, the scan is never changed. */

export type Channel = "" | "red" | "green" | "blue";

const PLAIN = {
  brightness: 1,
  contrast: 1,
  invert: false,
  local: false,
  flipped: false,
  turn_deg: 0,
};

class Tone {
  brightness = $state(PLAIN.brightness);
  contrast = $state(PLAIN.contrast);
  invert = $state(PLAIN.invert);
  channel = $state<Channel>("");
  local = $state(PLAIN.local);
  flipped = $state(PLAIN.flipped);
  turn_deg = $state(PLAIN.turn_deg);
  loupe = $state(false);

  filter = $derived(
    [
      this.brightness !== 1 ? `brightness(${this.brightness})` : "",
      this.contrast !== 1 ? `contrast(${this.contrast})` : "",
      this.invert ? "invert(1)" : "",
    ].join(" "),
  );
  isPlain = $derived(
    !this.filter.trim() && !this.channel && !this.local && !this.flipped && this.turn_deg === 0,
  );

  reset(): void {
    Object.assign(this, PLAIN);
    this.channel = "";
  }
}

export const tone = new Tone();
/** For what is no plate, and is shown as it was scanned. */
export const AS_IT_IS = new Tone();
