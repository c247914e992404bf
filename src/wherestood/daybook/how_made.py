"""Say how a plate of a daybook was made: size, lens, exposure, glass, left or right."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from typing import Any, cast

import numpy as np
from sqlalchemy.orm import Session

from wherestood.camera.priors import Process
from wherestood.dating.exposure import Exposure, exposure_from_blur
from wherestood.dating.lens_group import LensGroup, field_deg, lens_groups
from wherestood.dating.negative_kind import CLUES, KINDS, kinds_by_date, weigh_kinds
from wherestood.dating.plate_format import FormatGuess, rank_formats
from wherestood.dating.reversal import Reversal, decide_reversal
from wherestood.dating.seen_on_plate import Blur, Named
from wherestood.dating.weigh import months_considered, weigh
from wherestood.daybook.book import Daybook
from wherestood.daybook.camera_of_fix import FixedCamera, fixed_camera
from wherestood.daybook.date_items import gather_dates
from wherestood.daybook.gazetteer.offer import years_of_plate
from wherestood.daybook.keys import find
from wherestood.daybook.main_scan import main_scan
from wherestood.daybook.region import region_of
from wherestood.daybook.seen_kept import SeenKept, seen_kept
from wherestood.daybook.tables import Plate, Scan
from wherestood.errors import InputError, WherestoodError
from wherestood.plate.formats import size_mm

__all__ = ["AskedMaking", "BlurTold", "Lens", "Made", "Sides", "how_made"]

_SIDES = re.compile(r"^\s*(\d+(?:\.\d+)?)\s*[x×,]\s*(\d+(?:\.\d+)?)\s*(?:mm)?\s*$")
MM_AN_INCH = 25.4
#: Doubt of sides read off marked corners and a scanner's resolution, as a share:
#: common practice.
SCALE_SD = 0.005


@dataclass(frozen=True)
class AskedMaking:
    """Be what is given beside what the daybook keeps.

    Attributes
    ----------
    sides : str or None
        Sides measured on the object, ``216x165`` [mm].
    sides_sd_mm : float
        Standard error of each [mm].
    hand_cut : bool or None
        Whether the glass was cut by hand; taken so where nobody says, but for film.
    clues, readings : tuple of str
        What glass and coat show, and what tells left from right.
    """

    sides: str | None = None
    sides_sd_mm: float = 1.0
    hand_cut: bool | None = None
    clues: tuple[str, ...] = ()
    readings: tuple[str, ...] = ()


@dataclass(frozen=True)
class Sides:
    """Be a plate's measured sides, and the sizes ranked by them."""

    long_mm: float
    short_mm: float
    sd_mm: float
    source: str
    guesses: tuple[FormatGuess, ...]


@dataclass(frozen=True)
class Lens:
    """Be the lens: to the plate, its angles, and the groups it may be of.

    Attributes
    ----------
    principal_distance_mm, sd_mm : float
        Lens to plate [mm].
    source : str
        Where that is from.
    across_deg, high_deg, diagonal_deg : float
        What the whole plate sees [deg].
    groups : tuple of (LensGroup, float)
        The best first.
    """

    principal_distance_mm: float
    sd_mm: float
    source: str
    across_deg: float
    high_deg: float
    diagonal_deg: float
    groups: tuple[tuple[LensGroup, float], ...]


@dataclass(frozen=True)
class BlurTold:
    """Be what one blur tells of the exposure."""

    key: str
    moving: str
    exposure: Exposure


@dataclass(frozen=True)
class Made:
    """Hold how a plate was made, as far as anything tells.

    Attributes
    ----------
    sides : Sides or None
    lens : Lens or None
    blurs : tuple of BlurTold
    kinds : dict of str to float or None
        How probable wet plate, dry plate and film are.
    clues : tuple of str
        By which clues.
    reversal : Reversal or None
        Left for right or not.
    readings : tuple of str
        By which readings.
    hills_odds : float
        How many times better the mirrored skyline fits; 1 where the fix does not tell.
    notes : tuple of str
        What could not be told, and why.
    kinds_by_date : dict of str to float or None
        How probable each kind is by the plate's date alone, counted in ``kinds``.
    """

    sides: Sides | None
    lens: Lens | None
    blurs: tuple[BlurTold, ...]
    kinds: dict[str, float] | None
    clues: tuple[str, ...]
    reversal: Reversal
    readings: tuple[str, ...]
    hills_odds: float
    notes: tuple[str, ...]
    kinds_by_date: dict[str, float] | None = None


def how_made(book: Daybook, key: str, asked: AskedMaking) -> Made:
    """Say how a plate was made.

    Parameters
    ----------
    book : Daybook
    key : str
        The plate's.
    asked : AskedMaking
        What counts beside.

    Returns
    -------
    Made

    Raises
    ------
    InputError
        If what is given cannot be used.
    """
    notes: list[str] = []
    with book.reading() as session:
        plate = find(session, Plate, key)
        scan = main_scan(session, plate)
        fixed = _fixed(session, plate, notes)
        kept = seen_kept(session, plate, ("blur", "making", "reading"))
        years = years_of_plate(session, plate)
        region = region_of(session)
        months = months_considered(region.between)
        date = weigh(gather_dates(session, plate).items, *months)
        periods = region.known_periods()
    notes += kept.left_out
    latest = None if years is None or not math.isfinite(years[1]) else years[1]
    clues = tuple(dict.fromkeys((*_names(kept, "making"), *asked.clues)))
    readings = tuple(dict.fromkeys((*_names(kept, "reading"), *asked.readings)))
    by_date = None
    if date.groups and date.possible:
        by_date = kinds_by_date(date, periods)
    kinds = _kinds(clues, by_date, notes, given=bool(asked.clues))
    sides = _sides(plate, scan, asked, kinds, notes)
    lens = _lens(plate, fixed, sides, latest, notes)
    hills = _hills_log_odds(fixed)
    return Made(
        sides, lens, _blurs(kept, fixed, scan, lens, notes), kinds, clues,
        decide_reversal(cast("Process | None", plate.process), hills, readings),
        readings, math.exp(min(max(hills, -50.0), 50.0)), tuple(notes), by_date,
    )  # fmt: skip


def _names(kept: SeenKept, kind: str) -> list[str]:
    return [one.seen.name for one in kept.of(kind) if isinstance(one.seen, Named)]


def _fixed(session: Session, plate: Plate, notes: list[str]) -> FixedCamera | None:
    try:
        return fixed_camera(session, plate)
    except InputError:
        notes.append(
            "There is no fix yet: lens to plate, blurs and the hills' word on left and "
            "right wait for one."
        )
        return None


def _kinds(
    clues: tuple[str, ...],
    by_date: dict[str, float] | None,
    notes: list[str],
    *,
    given: bool,
) -> dict[str, float] | None:
    if not clues:
        notes.append(
            "No clue of the glass is kept. Look at the object itself: "
            f"{', '.join(CLUES)}."
        )
        return None
    try:
        return weigh_kinds(clues, by_date)
    except WherestoodError as trouble:
        if given:
            raise
        notes.append(f"{trouble.problem} {trouble.remedy}")
        return None


def _sides(
    plate: Plate,
    scan: Scan | None,
    asked: AskedMaking,
    kinds: dict[str, float] | None,
    notes: list[str],
) -> Sides | None:
    if asked.sides is not None:
        read = _SIDES.match(asked.sides)
        if read is None:
            raise InputError(
                f"The sides {asked.sides!r} cannot be read.",
                "Write both in millimetres, as in 216x165.",
            )
        one, other = float(read[1]), float(read[2])
        sd_mm, source = asked.sides_sd_mm, "measured"
    else:
        found = _sides_on_scan(scan)
        if found is None:
            notes.append(
                "No sides are measured: give them in millimetres, or mark the plate's "
                "four corners on a scan whose resolution is known."
            )
            return None
        one, other = found
        sd_mm = math.hypot(1.0, SCALE_SD * max(found))
        source = "its corners on the scan, by the scanner's resolution"
    hand_cut = asked.hand_cut
    if hand_cut is None:
        hand_cut = kinds is None or max(KINDS, key=lambda kind: kinds[kind]) != "film"
    guesses = rank_formats(
        one, other, sd_mm=sd_mm, hand_cut=hand_cut, trimmed=plate.trimmed
    )
    return Sides(max(one, other), min(one, other), sd_mm, source, guesses)


def _sides_on_scan(scan: Scan | None) -> tuple[float, float] | None:
    if scan is None or not scan.corners_px or not scan.scan_ppi:
        return None
    corners = np.array(scan.corners_px, dtype=np.float64)
    edges = np.linalg.norm(np.roll(corners, -1, axis=0) - corners, axis=1)
    mm = edges * MM_AN_INCH / scan.scan_ppi
    return float(mm[0] + mm[2]) / 2.0, float(mm[1] + mm[3]) / 2.0


def _lens(
    plate: Plate,
    fixed: FixedCamera | None,
    sides: Sides | None,
    latest: float | None,
    notes: list[str],
) -> Lens | None:
    size = size_mm(plate.size) if plate.size else None
    if size is None and sides is not None:
        size = (sides.long_mm, sides.short_mm)
    told: dict[str, Any] = {} if fixed is None else fixed.answer["camera"]
    found = told.get("principal_distance_mm")
    if plate.principal_distance_mm is not None:
        distance = plate.principal_distance_mm
        sd, source = plate.principal_distance_sd_mm or 0.0, "as it was written down"
    elif found is not None and fixed is not None:
        distance, source = float(found), f"by {fixed.fix}"
        sd = distance * fixed.doubt.log_distance
    else:
        notes.append("Lens to plate is not known in millimetres: give the plate size.")
        return None
    if size is None:
        notes.append("The plate's size is not known, so its field is not either.")
        return None
    long_mm, short_mm = max(size), min(size)
    upright = fixed is not None and fixed.camera.height_px > fixed.camera.width_px
    across, high = (short_mm, long_mm) if upright else (long_mm, short_mm)
    return Lens(
        distance, sd, source, field_deg(distance, across), field_deg(distance, high),
        field_deg(distance, math.hypot(across, high)),
        lens_groups(distance, long_mm, short_mm, latest),
    )  # fmt: skip


def _blurs(
    kept: SeenKept,
    fixed: FixedCamera | None,
    scan: Scan | None,
    lens: Lens | None,
    notes: list[str],
) -> tuple[BlurTold, ...]:
    found = []
    c_px = None if fixed is None else fixed.camera.principal_distance_px
    if c_px is None and lens is not None and scan is not None and scan.scan_ppi:
        c_px = lens.principal_distance_mm * scan.scan_ppi / MM_AN_INCH
    for one in kept.of("blur"):
        blur = one.seen
        if not isinstance(blur, Blur):
            continue
        if c_px is None:
            notes.append(f"{one.key} waits for the lens: its blur tells no time yet.")
            continue
        try:
            exposure = exposure_from_blur(
                blur.length_px, blur.distance_m, c_px, blur.moving,
                blur_sd_px=blur.sd_px, distance_sd_m=blur.distance_sd_m,
                across_deg=blur.across_deg,
            )  # fmt: skip
        except WherestoodError as trouble:
            notes.append(f"{one.key} is left out: {trouble.problem} {trouble.remedy}")
            continue
        found.append(BlurTold(one.key, blur.moving, exposure))
    return tuple(found)


def _hills_log_odds(fixed: FixedCamera | None) -> float:
    """Return how much better the mirrored skyline fits, by a fix that tried both."""
    told: dict[str, Any] = (
        {} if fixed is None else fixed.answer.get("assumptions") or {}
    )
    after, before = told.get("reversed_probability"), told.get("reversed_prior") or []
    if after is None or len(before) != 2 or None in before:
        return 0.0

    def odds(one: float, other: float) -> float:
        return math.log(max(one, 1e-12) / max(other, 1e-12))

    return odds(float(after), 1.0 - float(after)) - odds(before[1], before[0])
