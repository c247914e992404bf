"""Set up the search for the one station of several plates."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from wherestood.errors import InputError
from wherestood.evidence.items import Evidence, Feature
from wherestood.evidence.items.tie import TieMark
from wherestood.evidence.ties import TieTable
from wherestood.fix.area import Area
from wherestood.fix.beside import Beside
from wherestood.fix.problem import Problem, set_up
from wherestood.fix.settings import LocateSettings
from wherestood.plate.scan import Plate
from wherestood.plate.skyline import Skyline
from wherestood.terrain.model import Terrain

__all__ = ["PanoramaPlate", "set_up_panorama"]

#: Scans of diagonals this near were scanned alike, where nothing says how.
ALIKE = 1.25


@dataclass(frozen=True)
class PanoramaPlate:
    """Hold one plate of a panorama with what was read from it.

    Attributes
    ----------
    name : str
        What tie marks call it.
    plate : Plate
    skyline : Skyline or None
    evidence : Evidence
        All else that is known of it.
    """

    name: str
    plate: Plate
    skyline: Skyline | None
    evidence: Evidence = field(default_factory=Evidence)


def set_up_panorama(
    plates: Sequence[PanoramaPlate],
    terrain: Terrain,
    area: Area,
    settings: LocateSettings,
    ties: Sequence[TieMark] = (),
    *,
    one_lens: bool = True,
) -> Problem:
    """Bring the parts of a search for one station of several plates together.

    Parameters
    ----------
    plates : sequence of PanoramaPlate
        In any order.
    ties : sequence of TieMark
        Things seen on two of them.
    one_lens : bool
        Whether all were exposed through one lens.

    Returns
    -------
    Problem
        That of the first plate, the others beside it.

    Raises
    ------
    InputError
        If two plates have one name, one feature lies in two places, or a tie names
        none of the plates.
    """
    names = [one.name for one in plates]
    if len(set(names)) < len(names):
        raise InputError(
            "Two plates of the panorama have the same name.",
            "Give scans whose file names differ.",
        )
    for one in plates:
        if one.plate.corners_px is not None:
            raise InputError(
                f"The corners of {one.name} are marked on its scan, which is read of a "
                "plate by itself, and not yet of a panorama.",
                "Crop the scan to the plate and open it without corners.",
            )
    _check_features(plates)
    first: Problem | None = None
    problems: list[Problem] = []
    for one in plates:
        problem = set_up(
            one.plate,
            terrain,
            one.skyline,
            area,
            settings,
            one.evidence,
            first,
            [other.evidence for other in plates],
        )
        first = first or problem
        problems.append(problem)
    table = TieTable.of(
        ties,
        [_pair(tie, names) for tie in ties],
        [(one.plate.width_px, one.plate.height_px) for one in plates],
    )
    beside = Beside(
        tuple(problems[1:]),
        table,
        table,
        one_lens,
        _lens_offsets(problems, one_lens=one_lens),
    )
    return replace(problems[0], beside=beside)


def _check_features(plates: Sequence[PanoramaPlate]) -> None:
    """Refuse one id for two features: what is one thing errs alike on all plates."""
    known: dict[str, tuple[str, Feature]] = {}
    for one in plates:
        for feature in one.evidence.features:
            name, there = known.setdefault(feature.id, (one.name, feature))
            if (there.place, there.sd_m) != (feature.place, feature.sd_m):
                raise InputError(
                    f"The feature {feature.id!r} is not the same with {name} and with "
                    f"{one.name}.",
                    "Give two features ids of their own, and one feature one place.",
                )


def _pair(tie: TieMark, names: list[str]) -> tuple[int, int]:
    for name in tie.plates:
        if name not in names:
            raise InputError(
                f"The tie mark {tie.id!r} names the plate {name!r}, which is not here.",
                f"The plates are: {', '.join(names)}.",
            )
    return names.index(tie.plates[0]), names.index(tie.plates[1])


def _lens_offsets(problems: list[Problem], *, one_lens: bool) -> NDArray[np.float64]:
    """Return ln c over each scan's diagonal less that over the first's."""
    offsets = np.zeros(len(problems))
    first = problems[0]
    for k, other in enumerate(problems[1:], start=1):
        ratio = first.hands[0].samples.diagonal_px / other.hands[0].samples.diagonal_px
        if first.px_per_mm and other.px_per_mm:
            offsets[k] = math.log(ratio * other.px_per_mm / first.px_per_mm)
        elif 1.0 / ALIKE < ratio < ALIKE:
            # Scanned alike, and cut down by different amounts.
            offsets[k] = math.log(ratio)
    return offsets if one_lens else np.zeros(len(problems))
