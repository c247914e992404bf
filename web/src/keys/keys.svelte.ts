/** @file Keys: each is told once, by what uses it, and the help page lists what there is. */
import { SvelteMap } from "svelte/reactivity";

import { arranged, comboOf, isSingle, type Bound } from "./combos";

/** Where the browser keeps that single characters are no keys (WCAG 2.2, 2.1.4). */
const SINGLE = "wherestood.single-keys";

class Keys {
  shown = $state(false);
  /** Whether a single character is a key by itself. */
  single = $state(localStorage.getItem(SINGLE) !== "off");
  #bound = new SvelteMap<symbol, () => Bound[]>();

  /** Bind keys while the component that calls this is on the page. */
  during(bound: () => Bound[]): void {
    $effect(() => {
      const name = Symbol("keys");
      this.#bound.set(name, bound);
      return () => this.#bound.delete(name);
    });
  }

  setSingle(on: boolean): void {
    this.single = on;
    localStorage.setItem(SINGLE, on ? "on" : "off");
  }

  list = $derived(arranged([...this.#bound.values()].flatMap((bound) => bound())));

  pressed(event: KeyboardEvent): void {
    const combo = comboOf(event);
    if (event.key === "Escape" && this.shown) {
      this.shown = false;
      return;
    }
    if (event.defaultPrevented || typing(event.target, combo)) return;
    if (!this.single && isSingle(combo)) return;
    const found = [...this.#bound.values()]
      .toReversed()
      .flatMap((bound) => bound())
      .find(({ keys, act }) => keys === combo && act);
    if (!found?.act) return;
    event.preventDefault();
    void found.act();
  }
}

/** Whether a key belongs to a field that is being typed in. */
function typing(target: EventTarget | null, combo: string): boolean {
  if (!(target instanceof HTMLElement)) return false;
  if (target.isContentEditable || target instanceof HTMLTextAreaElement) return combo !== "Escape";
  if (target instanceof HTMLSelectElement) return !combo.includes("+");
  if (target instanceof HTMLInputElement)
    return !["checkbox", "radio", "range", "button"].includes(target.type) && combo !== "Escape";
  return false;
}

export const keys = new Keys();
