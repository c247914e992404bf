/** @file What was typed and not yet saved, kept in this tab across a reload. */

const PREFIX = "wherestood.typed.";

export function keep(name: string, typed: string): void {
  sessionStorage.setItem(PREFIX + name, typed);
}

export function kept(name: string): string | null {
  return sessionStorage.getItem(PREFIX + name);
}

export function forget(name: string): void {
  sessionStorage.removeItem(PREFIX + name);
}
