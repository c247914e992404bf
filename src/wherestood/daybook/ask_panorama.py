"""Ask for the one station of a panorama's plates by all that the daybook knows.

As with a single plate (`wherestood.daybook.ask_fix`) the daybook is not held while the
search runs::

    asked = prepare_panorama(daybook, "1987.12", Wish())
    answer = wherestood.panorama.locate_panorama(**asked.given(), progress=progress)
    kept = keep_panorama(daybook, asked, answer, who, why)
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

from wherestood.daybook.ask_fix import (
    PreparedFix,
    Wish,
    checked_told,
    ground_searched,
)
from wherestood.daybook.book import Daybook
from wherestood.daybook.keys import find
from wherestood.daybook.left_out import told_without
from wherestood.daybook.opened_scan import opened_scan
from wherestood.daybook.question import PlateRead, read_plate, settings_for
from wherestood.daybook.tables import Evidence, Plate
from wherestood.daybook.tell_evidence import ToldEvidence
from wherestood.daybook.ties_kept import (
    keep_matches,
    plates_of_panorama,
    tell_ties,
    ties_kept,
)
from wherestood.errors import DaybookError, InputError, SkylineError
from wherestood.evidence.items import Evidence as Told
from wherestood.evidence.items.tie import TieMark
from wherestood.evidence.traced_lines import with_traced_lines
from wherestood.fix.area import RING_REACH, Area
from wherestood.fix.settings import LocateSettings
from wherestood.plate.scan import Plate as Scanned
from wherestood.progress import SILENT, Progress
from wherestood.terrain.read import open_terrain

__all__ = ["PreparedPanorama", "named_apart", "prepare_panorama", "with_matches"]

#: Of the evidence file: what is the same for all plates, and keeps its name.
_SHARED = ("feature", "plan")
#: Keys by which items refer to others.
_REFERENCES = ("a", "b", "feature", "instead_of")


@dataclass(frozen=True)
class PreparedPanorama:
    """Hold all that a panorama's fix is made from, opened.

    Attributes
    ----------
    plates : tuple of PreparedFix
        One a plate, by key; ground, area and settings are the same in all.
    number : int
        Which of them it was asked for.
    ties : tuple of TieMark
        What is seen on two of them.
    tie_items : tuple of Evidence
        The items these are.
    matched : bool
        Whether such things were looked for, or set by hand, before.
    each_own_lens : bool
        Whether the plates may have been exposed through different lenses.
    notes : tuple of str
        What a person must know, in sentences.
    """

    plates: tuple[PreparedFix, ...]
    number: int
    ties: tuple[TieMark, ...]
    tie_items: tuple[Evidence, ...]
    matched: bool
    each_own_lens: bool
    notes: tuple[str, ...]

    @property
    def names(self) -> tuple[str, ...]:
        """Return what the plates are called: their keys."""
        return tuple(one.read.plate.key for one in self.plates)

    @property
    def scan_ids(self) -> tuple[str, ...]:
        """Return the scans that are looked at."""
        return tuple(one.read.scan.id for one in self.plates)

    def given(self) -> dict[str, Any]:
        """Return what `wherestood.panorama.locate_panorama` takes, by name."""
        asked = self.plates[self.number]
        proposed = [one for plate in self.plates for one in plate.read.proposed]
        given: dict[str, Any] = {
            "plates": [one.opened for one in self.plates],
            "land": asked.land,
            "evidence": [one.checked for one in self.plates],
            "within": asked.area,
            "settings": asked.settings,
            "ties": self.ties,
            "names": self.names,
            "each_own_lens": self.each_own_lens,
            "proposed": tuple(dict.fromkeys(proposed)),
        }
        if asked.read.plate.footing is not None:
            given["footing"] = asked.settings.footing
        return given


def prepare_panorama(
    daybook: Daybook,
    plate_key: str,
    wish: Wish | None = None,
    progress: Progress = SILENT,
    *,
    each_own_lens: bool = False,
) -> PreparedPanorama:
    """Open everything that the fix of a plate's whole panorama is made from.

    Parameters
    ----------
    daybook : Daybook
        Where; nothing is written yet.
    plate_key : str
        One of its plates, by key or id. What is not said of it, such as the ground
        searched, is taken from the others.
    wish : Wish, optional
        How, where not as usual; what does not count may be on any of the plates.
    progress : Progress
        Told how far the opening has come.
    each_own_lens : bool
        Whether the plates may have been exposed through different lenses.

    Raises
    ------
    DaybookError
        If the answer could not be kept.
    InputError
        If it belongs to no panorama of two plates or more, one has no scan, or
        nothing can be searched by.
    """
    wish = wish or Wish()
    if daybook.read_only:
        raise DaybookError(
            "The daybook is open for reading: a fix of it could not be kept.",
            "Copy the folder to where you may write, or use wherestood locate.",
        )
    with daybook.reading() as session:
        asked = find(session, Plate, plate_key)
        keys = [one.key for one in plates_of_panorama(session, asked)]
    if len(keys) < 2:
        raise InputError(
            f"Plate {asked.key} belongs to no panorama of two plates or more.",
            "Name the same panorama on each of its plates.",
        )
    number = keys.index(asked.key)
    reads = [read_plate(daybook, key, wish.terrain) for key in keys]
    with daybook.reading() as session:
        rows = [one.plate for one in reads]
        told = tell_ties(session, rows, [one.scan.id for one in reads])
        matched = bool(ties_kept(session, rows, set_aside=True))
    ties, items = _counting(told.ties, told.items, wish.without)
    area = _area(reads, number, wish)
    settings = _settings(reads, number, wish, each_own_lens=each_own_lens)
    land = open_terrain(
        list(reads[number].terrain),
        around=area.centre,
        radius_m=RING_REACH * area.radius_m + settings.horizon_radius_m,
        surface=settings.surface,
        refraction=settings.refraction,
        progress=progress,
    )
    plates: list[PreparedFix] = []
    notes: list[str] = list(told.left_out)
    for one in reads:
        here = {item.id for item in one.told.items}
        own = replace(wish, without=tuple(n for n in wish.without if n in here))
        out = own.left_out(one.told)
        one = replace(one, told=named_apart(told_without(one.told, out), one.plate.key))
        opened = opened_scan(daybook.folder, one.plate, one.scan)
        checked = checked_told(one.told, opened, land)
        evidence, note = _traced(opened, checked.evidence, wish, progress)
        said = (*one.told.left_out, *opened.notes, *([note] if note else []))
        notes += [f"{one.plate.key}: {sentence}" for sentence in said]
        plates.append(
            PreparedFix(
                one, out, opened, land, replace(checked, evidence=evidence), area,
                settings, said,
            )
        )  # fmt: skip
    return PreparedPanorama(
        tuple(plates), number, ties, items, matched, each_own_lens, tuple(notes)
    )


def with_matches(
    daybook: Daybook,
    asked: PreparedPanorama,
    found: Sequence[TieMark],
    person: str,
    why: str = "",
) -> PreparedPanorama:
    """Keep what the machine found on two plates, and let it count."""
    rows = [one.read.plate for one in asked.plates]
    with daybook.writing(person, why) as session:
        keep_matches(session, rows, asked.scan_ids, found)
        told = tell_ties(session, rows, asked.scan_ids)
    return replace(asked, ties=told.ties, tie_items=told.items, matched=True)


def named_apart(told: ToldEvidence, plate_key: str) -> ToldEvidence:
    """Return what items of a plate tell, each called by its plate too.

    On every plate things are lettered from A on, and a search of several must not take
    two of them for one.
    """
    own: dict[str, str] = {}
    for table, rows in told.document.items():
        if isinstance(rows, list) and table not in (*_SHARED, "ground_from"):
            own |= {row["id"]: f"{plate_key}/{row['id']}" for row in rows}
    document: dict[str, Any] = {}
    for table, rows in told.document.items():
        if table == "ground_from":
            document[table] = [own.get(name, name) for name in rows]
        elif isinstance(rows, list):
            shared = table in _SHARED
            document[table] = [row if shared else _renamed(row, own) for row in rows]
        else:
            document[table] = rows
    return replace(told, document=document)


def _renamed(row: dict[str, Any], own: dict[str, str]) -> dict[str, Any]:
    named = {**row, "id": own[row["id"]]}
    for key in _REFERENCES:
        if isinstance(row.get(key), str):
            named[key] = own.get(row[key], row[key])
    if row.get("derived_from"):
        named["derived_from"] = [own.get(one, one) for one in row["derived_from"]]
    return named


def _counting(
    ties: tuple[TieMark, ...], items: tuple[Evidence, ...], without: Sequence[str]
) -> tuple[tuple[TieMark, ...], tuple[Evidence, ...]]:
    kept = [k for k, item in enumerate(items) if item.id not in without]
    return tuple(ties[k] for k in kept), tuple(items[k] for k in kept)


def _area(reads: Sequence[PlateRead], number: int, wish: Wish) -> Area:
    """Return the ground searched: the plate's own, or that of another beside it."""
    own = reads[number].plate
    others = (one.plate for one in reads if one.plate.ground_searched)
    said = own if own.ground_searched else next(others, own)
    return ground_searched(said, wish.within)


def _settings(
    reads: Sequence[PlateRead], number: int, wish: Wish, *, each_own_lens: bool
) -> LocateSettings:
    """Return the settings of the plate asked for, with the lens told of another."""
    every = [
        settings_for(
            one,
            near_enough_m=wish.near_enough_m,
            refraction=wish.refraction,
            horizon_radius_m=wish.horizon_radius_m,
            seed=wish.seed,
        )
        for one in reads
    ]
    own = every[number]
    if each_own_lens or own.principal_distance_mm is not None:
        return own
    told = (one for one in every if one.principal_distance_mm is not None)
    lens = next(told, own)
    return replace(
        own,
        principal_distance_mm=lens.principal_distance_mm,
        principal_distance_sd_mm=lens.principal_distance_sd_mm,
    )


def _traced(
    opened: Scanned, told: Told, wish: Wish, progress: Progress
) -> tuple[Told, str]:
    """Trace what nobody drew; a plate on which nothing can be traced may hang too."""
    try:
        return with_traced_lines(
            opened,
            told,
            skyline=wish.skyline,
            ridge_lines=wish.ridge_lines,
            progress=progress,
        )
    except SkylineError as error:
        return told, error.problem
