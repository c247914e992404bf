"""Read from a daybook what is asked of one plate, at one moment of the journal."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, cast

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from wherestood.daybook.book import Daybook
from wherestood.daybook.choose import Wanted, choose
from wherestood.daybook.keys import find
from wherestood.daybook.main_scan import main_scan
from wherestood.daybook.tables import (
    JournalRow,
    Plate,
    ProposedPosition,
    Scan,
    TerrainLayer,
)
from wherestood.daybook.tell_evidence import ToldEvidence, tell_evidence
from wherestood.daybook.terrain_layers import paths_of
from wherestood.errors import InputError
from wherestood.fix.result import Proposed
from wherestood.fix.settings import Footing, LocateSettings, Process, SurfaceKind

__all__ = [
    "PlateRead",
    "layers_of",
    "main_scan",
    "proposed_for",
    "read_plate",
    "settings_for",
]

#: Doubt of a lens length of which none is told: engraved lengths are rounded. Common
#: practice.
LENS_DOUBT_SHARE = 0.03


@dataclass(frozen=True)
class PlateRead:
    """Hold what was read of a plate, at one moment of the journal.

    Attributes
    ----------
    plate : Plate
    scan : Scan
        The copy that marks are made on.
    told : ToldEvidence
        What its items tell.
    terrain : tuple of Path
        Elevation files.
    surface : str
        What their heights are of.
    proposed : tuple of Proposed
        Positions that somebody proposed.
    after_journal : int
        Number of the journal's last row.
    """

    plate: Plate
    scan: Scan
    told: ToldEvidence
    terrain: tuple[Path, ...]
    surface: str
    proposed: tuple[Proposed, ...]
    after_journal: int


def read_plate(book: Daybook, address: str, terrain: Sequence[Path] = ()) -> PlateRead:
    """Read what a daybook knows of a plate.

    Parameters
    ----------
    book : Daybook
        Where.
    address : str
        The plate's key or id.
    terrain : sequence of Path
        Elevation files to use instead of the daybook's layers.

    Raises
    ------
    InputError
        If it has no scan, or there is no terrain.
    """
    with book.reading() as session:
        plate = find(session, Plate, address)
        if plate.withdrawn:
            raise InputError(
                f"Plate {plate.key} was withdrawn.", "Choose another plate."
            )
        scan = main_scan(session, plate)
        if scan is None:
            raise InputError(
                f"Plate {plate.key} has no scan.",
                "Take one in before asking for a fix.",
            )
        told = tell_evidence(session, plate, scan.id)
        last = session.scalar(select(func.max(JournalRow.number))) or 0
        layers, surface = layers_of(book, session)
        proposed = proposed_for(session, plate)
    paths = tuple(terrain) or layers
    if not paths:
        raise InputError(
            "The daybook has no terrain layers.",
            "Take one in with wherestood terrain-in, or give --terrain.",
        )
    return PlateRead(plate, scan, told, paths, surface, proposed, last)


def layers_of(book: Daybook, session: Session) -> tuple[tuple[Path, ...], str]:
    """Return the elevation files of all layers, and what their heights are of."""
    layers = [x for x in choose(session, TerrainLayer, Wanted()) if not x.withdrawn]
    files = [path for layer in layers for path in paths_of(book, layer)]
    surfaces = {layer.surface or "unknown" for layer in layers}
    return tuple(files), surfaces.pop() if len(surfaces) == 1 else "unknown"


def proposed_for(session: Session, plate: Plate) -> tuple[Proposed, ...]:
    """Return the positions that somebody proposed for a plate."""
    return tuple(
        Proposed(
            one.proposed_by or one.key,
            one.lon_deg,
            one.lat_deg,
            one.doubt_m or 0.0,
            one.bearing_deg,
            reason=one.reason or "",
        )
        for one in choose(session, ProposedPosition, Wanted(plate_id=plate.id))
        if one.lon_deg is not None and one.lat_deg is not None
    )


def settings_for(
    read: PlateRead, *, near_enough_m: float | None = None, **more: Any
) -> LocateSettings:
    """Return the settings that a plate's columns say, and others as told."""
    plate = read.plate
    near_m = near_enough_m
    if near_m is None:
        near_m = plate.near_enough_m or LocateSettings.near_enough_m
    lens_mm, lens_sd_mm = plate.principal_distance_mm, plate.principal_distance_sd_mm
    if lens_mm is not None and lens_sd_mm is None:
        lens_sd_mm = LENS_DOUBT_SHARE * lens_mm
    return LocateSettings(
        near_enough_m=near_m,
        footing=cast(Footing, plate.footing or "tripod"),
        principal_distance_mm=lens_mm,
        principal_distance_sd_mm=lens_sd_mm if lens_mm is not None else None,
        trimmed=bool(plate.trimmed),
        surface=cast(SurfaceKind, read.surface),
        reversed=read.scan.reversed,
        process=cast("Process | None", plate.process),
        **more,
    )
