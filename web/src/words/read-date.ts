/** @file Read dates as people write them, into the form in which they are kept.
 *
 * The form is EDTF (ISO 8601-2, as the Library of Congress lists it, levels 0 and 1): what is
 * written in it already stands as it is.
 */

const MONTHS = [
  "january", "february", "march", "april", "may", "june", "july", "august", "september",
  "october", "november", "december",
]; // prettier-ignore
const SEASONS: Record<string, string> = {
  spring: "21", summer: "22", autumn: "23", fall: "23", winter: "24",
}; // prettier-ignore
/** Years of a decade that go by such a name: common practice. */
const PARTS: Record<string, [number, number]> = { early: [0, 3], mid: [4, 6], late: [7, 9] };
const ABOUT = /^(?:c(?:a|irca)?\.?|about|around|approximately)\s+/;

const CALENDAR = /[\s,(]+(o\.? ?s\.?|old style|julian|n\.? ?s\.?|new style)\)?$/;

/** Write a date as it is kept; null where it cannot be read. */
export function readDate(text: string): string | null {
  const typed = text.trim().toLowerCase().replaceAll(/\s+/g, " ");
  if (/^[-\d?~%/.x]+$/.test(typed)) return text.trim().replaceAll("x", "X");
  // Of which calendar it is stays beside it: the program carries the day over.
  const calendar = CALENDAR.exec(typed);
  if (calendar) {
    const read = readDate(typed.slice(0, calendar.index));
    return read && `${read} ${calendar[1]?.startsWith("n") ? "N.S." : "O.S."}`;
  }
  const about = ABOUT.test(typed);
  const rest = typed.replace(ABOUT, "");
  const span = /^(?:between |from )?(.+?) ?(?: and | to | until |–|—| - ) ?(.+)$/.exec(rest);
  if (span) {
    const [begin = "", end = ""] = [span[1], span[2]];
    const [first, last] = [
      oneDate(begin) ?? oneDate(`${begin} ${shared(begin, end)}`),
      oneDate(end),
    ];
    return first && last ? [first, last].map((one) => (about ? `${one}~` : one)).join("/") : null;
  }
  const open = /^(before|until|by|after|since|from) (.+)$/.exec(rest);
  if (open) {
    const one = oneDate(open[2] ?? "");
    if (!one) return null;
    return ["before", "until", "by"].includes(open[1] ?? "") ? `../${one}` : `${one}/..`;
  }
  const one = oneDate(rest);
  if (!one) return null;
  return about && !one.endsWith("~") ? `${one}~` : one;
}

/** What stands once for both: the year of "May to June 1877", the month of "1 to 9 June 1877". */
function shared(begin: string, end: string): string {
  return (
    (/^\d{1,2}(?:st|nd|rd|th)?$/.test(begin) ? /[a-z]{3,}.*\d{4}$/ : /\d{4}$/).exec(end)?.[0] ?? ""
  );
}

function oneDate(text: string): string | null {
  const about = ABOUT.test(text);
  const plain = text.replace(ABOUT, "").replaceAll(",", "");
  const found = yearOf(plain) ?? seasonOf(plain) ?? dayOf(plain);
  return found && about ? `${found}~` : found;
}

function yearOf(text: string): string | null {
  if (/^\d{4}(-\d\d){0,2}$/.test(text)) return text;
  const decade = /^(?:the )?(\d{3})0[’']?s$/.exec(text);
  if (decade) return `${decade[1]}X`;
  const part = /^(?:the )?(early|mid|late)[ -](?:the )?(\d{3})0[’']?s$/.exec(text);
  const [from, to] = PARTS[part?.[1] ?? ""] ?? [];
  return part && from !== undefined ? `${part[2]}${from}/${part[2]}${to}` : null;
}

function seasonOf(text: string): string | null {
  const found = /^(?:the )?(spring|summer|autumn|fall|winter)(?: of)? (\d{4})$/.exec(text);
  return found ? `${found[2]}-${SEASONS[found[1] ?? ""]}` : null;
}

/** "12 May 1880", "May 12 1880", "May 1880", "12th of May 1880". */
function dayOf(text: string): string | null {
  const year = /\b(\d{4})$/.exec(text)?.[1];
  const word = /[a-z]{3,}/.exec(text.replaceAll(/(?<=\d)(?:st|nd|rd|th)\b/g, ""))?.[0];
  const month = MONTHS.findIndex((name) => word !== undefined && name.startsWith(word)) + 1;
  if (!year || month === 0) return null;
  const two = (n: number): string => String(n).padStart(2, "0");
  const rest = text
    .replace(/\d{4}$/, "")
    .replaceAll(/[a-z]+\.?/g, " ")
    .trim();
  if (rest === "") return `${year}-${two(month)}`;
  const day = Number(rest);
  return day >= 1 && day <= 31 ? `${year}-${two(month)}-${two(day)}` : null;
}
