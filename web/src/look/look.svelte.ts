/** @file Light, dark, or as the system has it: remembered on this machine. */

export const TONES = ["system", "light", "dark"] as const;
export type PageTone = (typeof TONES)[number];
const KEPT_AS = "wherestood.page-tone";

const systemDark = matchMedia("(prefers-color-scheme: dark)");

class Look {
  tone = $state<PageTone>(read());
  #system = $state<"light" | "dark">(systemDark.matches ? "dark" : "light");
  /** What is on the screen now: canvases are painted anew when it changes. */
  shown = $derived(this.tone === "system" ? this.#system : this.tone);

  constructor() {
    systemDark.addEventListener("change", ({ matches }) => {
      this.#system = matches ? "dark" : "light";
    });
  }

  set(tone: PageTone): void {
    this.tone = tone;
    localStorage.setItem(KEPT_AS, tone);
    this.apply();
  }

  next(): void {
    this.set(TONES[(TONES.indexOf(this.tone) + 1) % TONES.length] ?? "system");
  }

  apply(): void {
    const root = document.documentElement;
    if (this.tone === "system") delete root.dataset.tone;
    else root.dataset.tone = this.tone;
  }
}

function read(): PageTone {
  const kept = localStorage.getItem(KEPT_AS);
  return TONES.find((tone) => tone === kept) ?? "system";
}

/** The page's colours as they are now, for what is drawn on a canvas. */
export function inks(): Record<
  "paper" | "card" | "graphite" | "pencil" | "rule" | "blue" | "madder" | "straw",
  string
> {
  const style = getComputedStyle(document.documentElement);
  const ink = (name: string): string => style.getPropertyValue(`--${name}`).trim();
  return {
    paper: ink("paper"),
    card: ink("card"),
    graphite: ink("graphite"),
    pencil: ink("pencil"),
    rule: ink("rule"),
    blue: ink("blue"),
    madder: ink("madder"),
    straw: ink("straw"),
  };
}

export const look = new Look();
