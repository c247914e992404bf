"""Make the part of the phone's page that is filled in on the spot, and saved as CSV."""

from __future__ import annotations

import json
from collections.abc import Sequence
from html import escape

from wherestood.visit.read_on_spot import COLUMNS

__all__ = ["FORM_STYLE", "phone_form"]

FORM_STYLE = """
form label { display: block; margin: 0.6em 0 0; }
form input, form textarea, form button { font: inherit; width: 100%;
  box-sizing: border-box; padding: 8px; border: 1px solid #6E6A62; border-radius: 4px;
  background: #FFFFFF; color: #2A2926; min-height: 44px; }
form button { margin-top: 1em; background: #2A2926; color: #F7F4EE; }
"""
#: What is asked, how it is called in the sheet, and which column the answer fills. A
#: place is typed as its app shows it, latitude first.
_ASKED: tuple[tuple[str, str, str], ...] = (
    ("Day", "day", "words"),
    ("Who was there", "who", "words"),
    ("Where the tripod stood: latitude, longitude", "stood", "place"),
    ("How sure the phone says that is, m", "stood", "sd"),
    ("The view matches the picture, to within how many metres", "matches", "value"),
)
_AFTER: tuple[tuple[str, str, str], ...] = (
    ("Compass towards the middle of the picture, degrees", "compass", "value"),
    ("Lens above the ground, m", "lens", "value"),
    ("Numbers of the photographs made", "photograph", "words"),
    ("Ground gone? How", "ground gone", "words"),
    ("Trees or buildings block it? How", "trees block it", "words"),
    ("The camera cannot have stood here, because", "not here", "words"),
    ("That was at: latitude, longitude", "not here", "place"),
    ("And holds within how many metres", "not here", "value"),
    ("Changed since", "changed", "words"),
    ("Anything else", "note", "words"),
    ("Landowner, consent, gates (kept private)", "private", "words"),
)


def phone_form(gaps: Sequence[tuple[str, str]], about: str) -> str:
    """Return the form and what saves it, for a page that asks no network.

    Parameters
    ----------
    gaps : sequence of (str, str)
        Far and near thing of each pair.
    about : str
        Plate, answer and place: what is typed is kept under it, apart from that of
        other sheets on the same phone.
    """
    rows = [_row(label, {"what": what}, column) for label, what, column in _ASKED]
    for far, near in gaps:
        label = f"Gap of {far} and {near}: degrees, {far} farther right is positive"
        rows.append(_row(label, {"what": "gap", "thing": far, "other": near}, "value"))
    for name in dict.fromkeys(name for pair in gaps for name in reversed(pair)):
        label = f"Tape from the tripod to {name}, m, if measured"
        rows.append(_row(label, {"what": "tape", "thing": name}, "value"))
    rows += [_row(label, {"what": what}, column) for label, what, column in _AFTER]
    script = _SCRIPT.replace("COLUMNS", json.dumps(COLUMNS))
    return (
        "<p>What is typed here stays on this phone. Save it, and at home give the file "
        "to the room <i>Visit</i>, under <i>Coming back</i>, or to "
        "<code>wherestood visit-in</code>.</p>\n"
        f'<form id="read" data-about="{escape(about)}">\n' + "\n".join(rows) + "\n"
        '<button type="submit">Save what was read</button></form>\n'
        f"<script>{script}</script>"
    )


def _row(label: str, told: dict[str, str], column: str) -> str:
    data = " ".join(f'data-{name}="{escape(value)}"' for name, value in told.items())
    number = ' inputmode="decimal"' if column in ("value", "sd") else ""
    if told["what"] == "day":
        number = ' type="date"'
    return (
        f'<label>{escape(label)}<input data-column="{column}" {data}{number}></label>'
    )


_SCRIPT = """
const columns = COLUMNS, form = document.getElementById("read");
const kept = "visit " + form.dataset.about;
const inputs = [...form.querySelectorAll("input")];
const named = (one) => one.parentElement.firstChild.textContent;
try { const before = JSON.parse(localStorage.getItem(kept) || "{}");
  for (const one of inputs) one.value = before[named(one)] ?? "";
} catch {}
form.addEventListener("input", () => { try {
  localStorage.setItem(kept, JSON.stringify(Object.fromEntries(
    inputs.map((one) => [named(one), one.value]))));
} catch {} });
form.addEventListener("submit", (event) => {
  event.preventDefault();
  const rows = new Map();
  for (const { value, dataset } of inputs) {
    if (!value.trim()) continue;
    const key = [dataset.what, dataset.thing, dataset.other].join("|");
    const row = rows.get(key) ?? { ...dataset };
    if (dataset.column === "place")
      [row.lat_deg, row.lon_deg] = value.trim().split(/[,;\\\\s]+/);
    else row[dataset.column] = value.trim();
    rows.set(key, row);
  }
  const cell = (text) =>
    /[",\\\\n]/.test(text) ? '"' + text.replaceAll('"', '""') + '"' : text;
  const lines = [columns.join(","), ...[...rows.values()].map((row) =>
    columns.map((name) => cell(row[name] ?? "")).join(","))];
  const link = document.createElement("a");
  const text = lines.join("\\\\n") + "\\\\n";
  link.href = "data:text/csv;charset=utf-8," + encodeURIComponent(text);
  link.download = "visit.csv";
  link.click();
});
""".replace("\\\\", "\\")
