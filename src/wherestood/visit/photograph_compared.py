"""Compare a photograph, once nothing is left to ask of it, with the plate of a fix."""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import date
from typing import Any

import numpy as np

from wherestood.earth.magnetic_today import declination_today
from wherestood.errors import InputError
from wherestood.ground.mapping import Mapping
from wherestood.plate.photograph import Photograph
from wherestood.plate.scan import Plate
from wherestood.progress import SILENT, Progress
from wherestood.record.doubt import distance_in_words
from wherestood.visit.seen_on_both import HandMarks, look_at_both, mirrored_likelier
from wherestood.visit.then_and_now import (
    LONGEST_PX,
    ThenAndNow,
    expected_camera,
    then_and_now,
)
from wherestood.visit.then_and_now_words import offset_sentences, told_sentences

__all__ = ["Compared", "compare_photograph"]

#: A photograph farther from the fix than this is of another place, unless told [m].
_OTHER_PLACE_M = 300.0
_METRES_A_DEGREE = 111_320.0
_EITHER_WAY_ROUND = (
    "The fix leaves open whether the scan is left for right: it was compared as it "
    "more probably is ({share:.0%})."
)


@dataclass(frozen=True)
class Compared:
    """Hold what came of it.

    Attributes
    ----------
    told : ThenAndNow
    sentences : tuple of str
        Where it stood first, then how it was compared.
    made : str
        When and with what the photograph was made.
    notes : tuple of str
        What a person should know of it.
    """

    told: ThenAndNow
    sentences: tuple[str, ...]
    made: str
    notes: tuple[str, ...] = ()

    def form(self) -> dict[str, Any]:
        """Return it as it is published."""
        told = self.told
        sd = np.sqrt(np.diag(told.covariance_m2))
        names = ("right_m", "forward_m", "up_m")
        left_px = told.laying.left_px
        return {
            "told": told.told,
            "offset": dict(zip(names, map(float, told.offset_m), strict=True)),
            "sd": dict(zip(names, map(float, sd), strict=True)),
            "things": len(told.pairs),
            "near": told.near,
            "by_hand": told.by_hand,
            "left_out": told.left_out,
            "left_px": left_px if math.isfinite(left_px) else None,
            "sentences": list(self.sentences),
        }


def compare_photograph(
    mapping: Mapping,
    station: dict[str, Any],
    plate: Plate,
    photo: Photograph,
    today: date,
    rng: np.random.Generator,
    *,
    marks: HandMarks | None = None,
    mirrored: bool | None = None,
    lens_m: float | None = None,
    progress: Progress = SILENT,
) -> Compared:
    """Lay a photograph over a plate, and tell where it stood.

    Parameters
    ----------
    mapping : Mapping
    station : dict
        Of the published fix, at the place of the mapping.
    plate : Plate
        The scan that the fix was made with.
    photo : Photograph
        With what a person said put in.
    today : date
        For a compass of a photograph without a day.
    rng : numpy.random.Generator
    marks : HandMarks, optional
    mirrored : bool, optional
        Whether it is left for right; None if nobody said.
    lens_m : float, optional
        Of its lens above the ground, measured there [m].
    progress : Progress, optional

    Raises
    ------
    InputError
        If the scan is another one, the photograph was made elsewhere or looks mirrored,
        or too little is seen on both.
    """
    if (plate.width_px, plate.height_px) != mapping.scan_px:
        raise InputError(
            f"The scan is {plate.width_px} x {plate.height_px} px, and the fix was "
            f"made with one of {mapping.scan_px[0]} x {mapping.scan_px[1]} px.",
            "Name the scan that the fix was made with.",
        )
    _require_same_place(photo, station)
    pictures = (*plate.reduced(LONGEST_PX), *photo.blue(LONGEST_PX))
    whole, mapping = mapping, mapping.one_way_round()
    looked = look_at_both(
        *pictures, mirrored=bool(mirrored), plate_mirrored=mapping.mostly_reversed
    )
    if mirrored is None and mirrored_likelier(looked, *pictures):
        raise InputError(
            "The photograph looks like the plate left for right.",
            "Say that it is mirrored, or that it is not if it only seems so.",
        )
    size = photo.width_px, photo.height_px
    heading_rad, notes = _grid_heading_rad(photo, mapping, today)
    expected = expected_camera(
        mapping, size, principal_distance_px=photo.principal_distance_px,
        heading_rad=heading_rad, lens_m=lens_m,
    )  # fmt: skip
    told = then_and_now(
        mapping, looked, size, expected, rng, marks=marks, mirrored=bool(mirrored),
        progress=progress,
    )  # fmt: skip
    if len(mapping.cameras) < len(whole.cameras):
        share = len(mapping.cameras) / len(whole.cameras)
        notes = (*notes, _EITHER_WAY_ROUND.format(share=share))
    when = f"{photo.taken:%Y-%m-%d %H:%M}" if photo.taken else "day not known"
    camera = f", {photo.camera}" if photo.camera else ""
    sentences = (*offset_sentences(told), *told_sentences(told))
    return Compared(told, sentences, f"{when}{camera}", notes)


def _require_same_place(photo: Photograph, station: dict[str, Any]) -> None:
    """Ask about a photograph that was made somewhere else."""
    if photo.lon_deg is None or photo.lat_deg is None:
        return
    lat = math.radians(station["lat"])
    east = (photo.lon_deg - station["lon"] + 180.0) % 360.0 - 180.0
    away_m = _METRES_A_DEGREE * math.hypot(
        east * math.cos(lat), photo.lat_deg - station["lat"]
    )
    doubt_m = math.hypot(station["sd_east_m"] or 0.0, station["sd_north_m"] or 0.0)
    if away_m > _OTHER_PLACE_M + 3.0 * doubt_m:
        raise InputError(
            f"The photograph says that it was made {distance_in_words(away_m)} "
            "from the camera's place.",
            "Is it the right one? If its place is wrong, say that its position is not "
            "known.",
        )


def _grid_heading_rad(
    photo: Photograph, mapping: Mapping, today: date
) -> tuple[float | None, tuple[str, ...]]:
    """Return where the photograph looks, from grid north; of a compass by its day's."""
    if photo.heading_deg is None:
        return None, ()
    draws, frame = mapping.cameras.draws, mapping.ground.model.terrain.frame
    lon, lat = frame.to_lonlat(draws.east_m[:1], draws.north_m[:1])
    true_deg = photo.heading_deg
    notes: tuple[str, ...] = ()
    if photo.heading_magnetic is not False:
        when = photo.taken.date() if photo.taken else today
        try:
            true_deg += declination_today(float(lon[0]), float(lat[0]), when).east_deg
        except InputError:
            notes = ("Magnetic north of that day is not known; the heading is rough.",)
    turn_deg = frame.convergence_deg(float(lon[0]), float(lat[0]))
    return math.radians(true_deg - turn_deg), notes
