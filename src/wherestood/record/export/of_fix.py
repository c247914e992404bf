"""Read what is handed out of a fix in its published form, ``fix.json``."""

from __future__ import annotations

import hashlib
import json
import math
from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import shapely

from wherestood.camera.model import Camera
from wherestood.errors import InputError
from wherestood.record.export.handed import (
    Answer,
    Decided,
    HandedOut,
    HandedPlate,
    Held,
    Picture,
    Place,
    Region,
)
from wherestood.record.export.pictures_of_fix import drawn_beside

__all__ = ["answer_of", "handed_of_fix", "plates_of_fix"]


def handed_of_fix(
    form: Mapping[str, Any],
    *,
    scans: Sequence[Path] = (),
    beside: Path | None = None,
    made: str = "",
    version: str = "",
) -> HandedOut:
    """Return what a bare fix hands out: whole, since it knows of no restriction.

    Parameters
    ----------
    form : mapping
        As `wherestood.record.fix_json.read_fix` reads it.
    scans : sequence of Path
        Scans that it was made from, to go along.
    beside : Path, optional
        The folder in which pictures were drawn of it.
    made, version : str
        When it is handed out, and by what.

    Raises
    ------
    InputError
        If a scan is none of those that it was made from.
    """
    plates = plates_of_fix(form)
    for scan in scans:
        plates = _with_picture(plates, form, scan)
    if beside is not None and len(plates) == 1:
        plates = (replace(plates[0], comparisons=drawn_beside(beside)),)
    title = str(form["plate"])
    return HandedOut(title, "full", plates, made=made, version=version)


def _with_picture(
    plates: tuple[HandedPlate, ...], form: Mapping[str, Any], scan: Path
) -> tuple[HandedPlate, ...]:
    try:
        with scan.open("rb") as stream:
            sha256 = hashlib.file_digest(stream, "sha256").hexdigest()
    except OSError as error:
        raise InputError(
            f"The scan {str(scan)!r} cannot be read ({error.strerror}).",
            "Name the scan that the fix was made from.",
        ) from error
    own = [form["inputs"]["scan"]]
    if "cameras" in form:
        own = [one["scan"] for one in form["panorama"]["plates"]]
    if sha256 not in [one["sha256"] for one in own]:
        raise InputError(
            f"The scan {scan.name!r} is not one that the fix was made from: its "
            "checksum is another.",
            f"Name {' or '.join(one['file'] for one in own)}, as it then was.",
        )
    return tuple(
        replace(plate, picture=_picture(scan, told))
        if told["sha256"] == sha256
        else plate
        for plate, told in zip(plates, own, strict=True)
    )


def _picture(scan: Path, told: Mapping[str, Any]) -> Picture:
    size_px = (int(told["width_px"]), int(told["height_px"]))
    return Picture(
        scan, *size_px, int(told["page"]), bool(told["negative"]),
        bool(told["reversed"]),
    )  # fmt: skip


def plates_of_fix(form: Mapping[str, Any]) -> tuple[HandedPlate, ...]:
    """Return the plates of a fix: one, or all of a panorama."""
    if "camera" in form:
        return (_plate(str(form["plate"]), answer_of(form)),)
    own = form["panorama"]["plates"]
    return tuple(
        _plate(one["plate"], answer_of(_one_of(form, k))) for k, one in enumerate(own)
    )


def _plate(name: str, answer: Answer) -> HandedPlate:
    return HandedPlate(name, {"accession number": name, "title": ""}, answer=answer)


def _one_of(form: Mapping[str, Any], k: int) -> dict[str, Any]:
    """Return a panorama's fix as that of one of its plates."""
    others = [
        {**{key: v for key, v in one.items() if key != "cameras"},
         "camera": one["cameras"][k]}
        for one in form["alternatives"]
    ]  # fmt: skip
    scan = form["panorama"]["plates"][k]["scan"]
    return {
        **form,
        "camera": form["cameras"][k],
        "alternatives": others,
        "inputs": {**form["inputs"], "scan": scan},
    }


def answer_of(
    form: Mapping[str, Any], *, key: str = "", decided: Decided | None = None
) -> Answer:
    """Return the answer that a fix of one plate tells.

    Parameters
    ----------
    form : mapping
        As `wherestood.record.fix_json.read_fix` reads it.
    key : str
        What the fix is called in its daybook.
    decided : Decided, optional
        What a person concluded of it.
    """
    width_px, height_px = _frame_px(form["inputs"]["scan"])
    own = _place(form, 1, form["near_enough_share"], (width_px, height_px))
    others = [
        _place(one, rank, one["probability"], (width_px, height_px))
        for rank, one in enumerate(form["alternatives"], start=2)
    ]
    regions = tuple(
        Region(
            float(one["properties"]["probability"]),
            shapely.from_geojson(json.dumps(one["geometry"])),
        )
        for one in form["regions"]["features"]
    )
    return Answer(
        verdict=str(form["verdict"]),
        near_enough_m=_number(form["near_enough_m"]),
        elsewhere=_number(form["elsewhere"]),
        places=(own, *others),
        regions=regions,
        vertical_datum=str(form["terrain"]["vertical_datum"]),
        decided=decided,
        key=key,
        made=str(form["made"]),
        version=str(form["version"]),
    )


def _place(
    form: Mapping[str, Any], rank: int, probability: Any, frame_px: tuple[int, int]
) -> Place:
    station = form["station"]
    return Place(
        lon_deg=float(station["lon"]),
        lat_deg=float(station["lat"]),
        rank=rank,
        probability=_number(probability),
        height_m=_number(station["height_m"]),
        sd_east_m=_number(station["sd_east_m"]),
        sd_north_m=_number(station["sd_north_m"]),
        sd_height_m=_number(station["sd_height_m"]),
        held=_held(form["camera"], frame_px),
    )


def _held(camera: Mapping[str, Any], frame_px: tuple[int, int]) -> Held:
    sd = {name: float(v) for name, v in camera["sd"].items() if _number(v) is not None}
    return Held(
        camera=Camera(
            bearing_rad=math.radians(camera["bearing_deg"]),
            tilt_rad=math.radians(camera["tilt_deg"]),
            roll_rad=math.radians(camera["roll_deg"]),
            principal_distance_px=float(camera["principal_distance_px"]),
            rise_px=float(camera["rise_px"]),
            cross_px=float(camera["cross_px"]),
            k1=float(camera["k1"]),
            width_px=frame_px[0],
            height_px=frame_px[1],
            reversed=bool(camera["reversed"]),
        ),
        sight_bearing_deg=float(camera["sight"]["bearing_deg"]),
        sight_elevation_deg=float(camera["sight"]["elevation_deg"]),
        principal_distance_mm=_number(camera["principal_distance_mm"]),
        sd=sd,
    )


def _frame_px(scan: Mapping[str, Any]) -> tuple[int, int]:
    """Return the frame's size: of the straightened plate where corners are marked."""
    if not scan["corners_px"]:
        return int(scan["width_px"]), int(scan["height_px"])
    corners = np.asarray(scan["corners_px"], dtype=np.float64)
    sides = np.linalg.norm(corners - np.roll(corners, -1, axis=0), axis=1)
    across_px, down_px = (sides[0] + sides[2]) / 2, (sides[1] + sides[3]) / 2
    return round(float(across_px)), round(float(down_px))


def _number(value: Any) -> float | None:
    return None if value is None or not math.isfinite(value) else float(value)
