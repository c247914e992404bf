"""Write the number of a workbook's cell in the form that the cell shows.

Forms are those of ECMA-376-1:2016, 18.8.30 and 18.8.31. Marks between thousands are
left out, since they differ from country to country, and the decimal mark is a point.
"""

from __future__ import annotations

import datetime
import re
from decimal import ROUND_HALF_UP, Decimal

__all__ = ["date_as_shown", "number_as_shown"]

_LITERAL = re.compile(r'"([^"]*)"|\\(.)')
_SET_ASIDE = re.compile(r"\[[^\]]*\]|_.|\*.")  # colours and the like, widths, filling
_DIGITS = re.compile(r"[0#?,]*[0#?](?:\.[0#?]*)?,*|\.[0#?]+")
_DRAWN = re.compile(r"[EeDdMmYyHhSs/@]")


def number_as_shown(number: float, form: str) -> str | None:
    """Return a number as its cell shows it.

    Parameters
    ----------
    number : int or float
        The number kept.
    form : str
        The cell's number format.

    Returns
    -------
    str or None
        None if the cell shows another number than it holds (rounded, say), or if the
        form is one that is not known here; it then cannot be read without loss.
    """
    if form.casefold() in ("general", "@", "standard", ""):
        return _plain(number)
    section, value = _section(form, Decimal(f"{number:.15g}"))
    literals: list[str] = []

    def keep(found: re.Match[str]) -> str:
        literals.append(found[1] if found[1] is not None else found[2])
        return "\x00"

    bare = _SET_ASIDE.sub("", _LITERAL.sub(keep, section))
    places = list(_DIGITS.finditer(bare))
    if len(places) != 1 or _DRAWN.search(bare):
        # Scientific, fractions, several groups of digits: not one plain number.
        return _plain(number) if bare.casefold() == "general" else None
    digits = places[0][0]
    if digits.endswith(","):
        return None  # shown in thousands
    scaled = value * 100 ** bare.count("%")
    written = _written(scaled, digits.replace(",", ""))
    if Decimal(written or "0") != scaled:
        return None
    shown = bare[: places[0].start()] + written + bare[places[0].end() :]
    for literal in literals:
        shown = shown.replace("\x00", literal, 1)
    return shown.strip()


def date_as_shown(when: datetime.datetime, form: str) -> str:
    """Return a date as far as its cell shows it: a year, a month, a day, a time."""
    bare = _SET_ASIDE.sub("", _LITERAL.sub("", form)).casefold()
    if not re.search("[dhs]", bare) and "y" in bare:
        return f"{when:%Y-%m}" if "m" in bare else f"{when:%Y}"
    midnight = when.time() == datetime.time()
    return when.date().isoformat() if midnight else when.isoformat(sep=" ")


def _plain(number: float) -> str:
    """Return a number without a form; a spreadsheet keeps 15 digits of it."""
    if isinstance(number, int):
        return str(number)
    if number.is_integer() and abs(number) < 1e15:
        return str(int(number))
    return f"{number:.15g}"


def _section(form: str, value: Decimal) -> tuple[str, Decimal]:
    """Return the part of a form for a number of this sign, and what it shows of it."""
    hidden = re.sub(r'"[^"]*"|\\.|\[[^\]]*\]', lambda m: "x" * len(m[0]), form)
    ends = [place for place, sign in enumerate(hidden) if sign == ";"]
    starts = [0, *(place + 1 for place in ends)]
    sections = [form[a:b] for a, b in zip(starts, [*ends, len(form)], strict=True)]
    if value < 0 and len(sections) > 1:
        return sections[1], -value  # the part says how the sign is shown
    if value == 0 and len(sections) > 2:
        return sections[2], value
    return sections[0], value


def _written(value: Decimal, digits: str) -> str:
    whole, _, fraction = digits.partition(".")
    rounded = value.quantize(Decimal(1).scaleb(-len(fraction)), ROUND_HALF_UP)
    sign, text = ("-", f"{-rounded:f}") if rounded < 0 else ("", f"{rounded:f}")
    before, _, after = text.partition(".")
    before = before.lstrip("0").rjust(whole.count("0"), "0")
    least = len(fraction.rstrip("#?"))
    after = after[:least] + after[least:].rstrip("0")
    return sign + (f"{before}.{after}" if "." in digits and after else before)
