"""Read the evidence of several plates from one TOML file.

It is the file of a single plate (`evidence.file`) in which an item says from which
plate it was read, and tables [[tie]] name what shows on two.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from wherestood.errors import EvidenceError
from wherestood.evidence.file import (
    TABLES,
    TIES,
    Reading,
    content_of,
    held_to_form,
    read_evidence,
)
from wherestood.evidence.file_lines import lines_of
from wherestood.evidence.items.check import (
    Checked,
    Complaint,
    HasHeight,
    names_like,
)
from wherestood.evidence.items.tie import TieMark

__all__ = ["PanoramaEvidence", "read_evidence_of", "read_panorama_evidence"]

#: Tables of what lies on the ground, the same for all plates.
_SHARED = ("plan", "feature", "changed_ground")
#: Tables of what stands on one plate and no other.
_ON_PLATE = (
    "skyline",
    "ridge_line",
    "mark",
    "plumb_edge",
    "water_level",
    "sea_horizon",
    "known_size",
)


@dataclass(frozen=True)
class PanoramaEvidence:
    """Hold what one file says of several plates.

    Attributes
    ----------
    plates : tuple of Checked
        Of each plate, in the order given. What no plate is named for and needs none
        stands with the first.
    ties : tuple of TieMark
    complaints : tuple of Complaint
        What is wrong with ties, and with items of plates that are not there.
    """

    plates: tuple[Checked, ...]
    ties: tuple[TieMark, ...]
    complaints: tuple[Complaint, ...]


def read_panorama_evidence(
    path: str | Path,
    names: Sequence[str],
    sizes_px: Sequence[tuple[int, int]],
    has_height: HasHeight | None = None,
) -> PanoramaEvidence:
    """Read an evidence file of several plates, keeping all that can be used.

    Parameters
    ----------
    path : str or Path
        The file.
    names : sequence of str
        What the plates are called.
    sizes_px : sequence of (int, int)
        Width and height of their scans [px].
    has_height : callable, optional
        As of `check_evidence`.

    Raises
    ------
    EvidenceError
        If the file cannot be read, is no TOML, or is of another form.
    """
    path = Path(path)
    content, text = content_of(path)
    reading = Reading(path, lines_of(text), None, None)
    faulty = held_to_form(content, reading)
    reading.complaints.clear()  # each plate's own reading finds the same
    for table in TABLES:
        for number, given in enumerate(content.get(table, ())):
            if (table, number) in faulty or table in _SHARED:
                continue
            _check_plate(table, number, given, names, reading)
    ties = _ties(content, faulty, names, sizes_px, reading)
    plates = []
    seen: set[tuple[int | None, str]] = set()
    for k, name in enumerate(names):
        checked = read_evidence(
            path,
            width_px=sizes_px[k][0],
            height_px=sizes_px[k][1],
            has_height=has_height,
            keep=lambda table, given, k=k, name=name: _is_of(table, given, name, k),  # type: ignore[misc]
        )
        new = tuple(c for c in checked.complaints if (c.line, c.problem) not in seen)
        seen |= {(c.line, c.problem) for c in new}
        plates.append(Checked(checked.evidence, new))
    return PanoramaEvidence(tuple(plates), ties, tuple(reading.complaints))


def read_evidence_of(
    path: str | Path,
    names: Collection[str],
    *,
    width_px: int | None = None,
    height_px: int | None = None,
    has_height: HasHeight | None = None,
) -> Checked:
    """Read what a file, perhaps of several plates, says of one of them.

    Parameters
    ----------
    path, width_px, height_px, has_height
        As `wherestood.evidence.file.read_evidence` takes them.
    names : collection of str
        What the plate may be called. An item that names another plate is left out,
        with a complaint; one that names none is taken for this plate's.

    Raises
    ------
    EvidenceError
        If the file cannot be read, is no TOML, or is of another form.
    """
    path = Path(path)
    content, text = content_of(path)
    reading = Reading(path, lines_of(text), None, None)
    others: dict[str, list[tuple[str, int]]] = {}
    for table in TABLES:
        for number, given in enumerate(_dicts(content.get(table))):
            if table not in _SHARED and not _names_one(given, names):
                others.setdefault(str(given["plate"]), []).append((table, number))
    checked = read_evidence(
        path,
        width_px=width_px,
        height_px=height_px,
        has_height=has_height,
        keep=lambda table, given: table in _SHARED or _names_one(given, names),
    )
    for name, places in others.items():
        items = "1 item is" if len(places) == 1 else f"{len(places)} items are"
        called = " or ".join(repr(own) for own in sorted(names))
        reading.complain(
            (*places[0], "plate"),
            Complaint(
                "evidence",
                "",
                f"{items} of the plate {name!r}, and left out.",
                f"If this plate is meant, call it {called}.",
                dropped=False,
                field="plate",
            ),
        )
    return Checked(checked.evidence, (*checked.complaints, *reading.complaints))


def _dicts(given: object) -> list[dict[str, Any]]:
    tables = given if isinstance(given, list) else ()
    return [table for table in tables if isinstance(table, dict)]


def _names_one(given: dict[str, Any], names: Collection[str]) -> bool:
    """Say whether an item names no plate, or one of these."""
    of = given.get("plate", "")
    return not of or of in names


def _is_of(table: str, given: dict[str, Any], name: str, number: int) -> bool:
    """Say whether an item belongs to a plate."""
    if table in _SHARED:
        return True
    of = given.get("plate", "")
    if not of:
        return number == 0 and table not in _ON_PLATE
    return bool(of == name)


def _check_plate(
    table: str,
    number: int,
    given: dict[str, Any],
    names: Sequence[str],
    reading: Reading,
) -> None:
    """Complain of an item of no plate, or of one that is not here."""
    name = str(given.get("id") or f"number {number + 1}")
    words = table.replace("_", " ")
    of = given.get("plate", "")
    if of and of not in names:
        problem = f"The {words} {name!r} is of a plate {of!r}, which is not here."
        remedy = names_like(of, names)
    elif not of and table in _ON_PLATE:
        problem = f"The {words} {name!r} does not say on which plate it stands."
        remedy = f'Add plate = "..."; the plates are {", ".join(names)}.'
    else:
        return
    reading.complain(
        (table, number), Complaint(words, name, problem, remedy, field="plate")
    )


def _ties(
    content: dict[str, Any],
    faulty: set[Any],
    names: Sequence[str],
    sizes_px: Sequence[tuple[int, int]],
    reading: Reading,
) -> tuple[TieMark, ...]:
    found: list[TieMark] = []
    for number, given in enumerate(content.get(TIES, ())):
        if (TIES, number) in faulty or (TIES,) in faulty:
            continue
        try:
            tie = TieMark(**given)
            _check_tie(tie, names, sizes_px, found)
        except EvidenceError as error:
            reading.complain((TIES, number), Complaint.of(error))
            continue
        found.append(tie)
    return tuple(found)


def _check_tie(
    tie: TieMark,
    names: Sequence[str],
    sizes_px: Sequence[tuple[int, int]],
    before: Sequence[TieMark],
) -> None:
    """Refuse a tie of plates that are not here, off a scan, or named twice."""
    if any(tie.id == other.id for other in before):
        raise tie.refusal(
            "id", "its id is that of a tie before it", "Give every tie an id of its own"
        )
    for name, (x, y) in zip(tie.plates, (tie.first_px, tie.second_px), strict=True):
        if name not in names:
            raise tie.refusal(
                "plates", f"the plate {name!r} is not here", names_like(name, names)
            )
        width, height = sizes_px[list(names).index(name)]
        if not (0.0 <= x <= width and 0.0 <= y <= height):
            raise tie.refusal(
                "first_px",
                f"the point ({x:g}, {y:g}) lies outside the scan of {name}, "
                f"{width} x {height} px",
                "Give pixels of that scan, upright, from its top-left corner.",
            )
