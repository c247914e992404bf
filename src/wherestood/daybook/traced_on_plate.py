"""Find where things traced from plans show on a plate."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from sqlalchemy import select
from sqlalchemy.orm import Session

from wherestood.daybook.tables import Feature, Plan
from wherestood.earth.frame import Frame
from wherestood.ground.mapping import Mapping
from wherestood.ground.on_plate import ShownPiece, shown_on_plate

__all__ = ["DRAWN", "MOST_THINGS", "ThingOnPlate", "traced_features", "traced_on_plate"]

#: More things than this are not drawn at once: each asks a hundred cameras.
MOST_THINGS = 200
#: Under which a feature keeps that it was drawn on a plate, and where there.
DRAWN = "drawn_on_plate"


@dataclass(frozen=True)
class ThingOnPlate:
    """Hold where a feature shows on a plate.

    Attributes
    ----------
    feature : Feature
    sd_m : float
        Standard error of its place, the plan's shared shift included [m].
    pieces : tuple of ShownPiece
        Empty if the plate does not show it.
    """

    feature: Feature
    sd_m: float
    pieces: tuple[ShownPiece, ...]


def traced_features(
    session: Session, *, lines: bool = False
) -> list[tuple[Feature, float]]:
    """Return features that were traced from plans, with their whole error [m].

    Parameters
    ----------
    session : Session
    lines : bool
        Whether all other lines and outlines of the map come along, and what was drawn
        on plates.
    """
    wanted = (
        select(Feature, Plan.shared_shift_sd_m)
        .join(Plan, Feature.plan_id == Plan.id, isouter=True)
        .where(
            Feature.removed.is_(False),
            Feature.withdrawn.is_(None),
            Feature.geometry.is_not(None),
        )
        .order_by(Feature.key)
    )
    return [
        (feature, float(np.hypot(feature.sd_m or 0.0, shared or 0.0)))
        for feature, shared in session.execute(wanted)
        if (feature.traced and feature.plan_id)
        or (lines and (_is_line(feature) or DRAWN in (feature.imported or {})))
    ]


def _is_line(feature: Feature) -> bool:
    return (feature.geometry or {}).get("type") not in (None, "Point", "MultiPoint")


def traced_on_plate(
    mapping: Mapping,
    traced: Sequence[tuple[Feature, float]],
    rng: np.random.Generator,
) -> list[ThingOnPlate]:
    """Return where traced features show on the plate, and how surely.

    Parameters
    ----------
    mapping : Mapping
        The plate's cameras and the terrain before them.
    traced : sequence of (Feature, float)
        As of `traced_features`.
    rng : numpy.random.Generator
        Where chance comes from.

    Notes
    -----
    The sheet's shared shift counts in each thing's width: that all of them move
    together is not to be seen in a width.
    """
    frame = mapping.ground.model.terrain.frame
    return [
        ThingOnPlate(
            feature,
            sd_m,
            tuple(shown_on_plate(mapping, _laid(feature, frame), rng, sd_m=sd_m)),
        )
        for feature, sd_m in traced
    ]


def _laid(feature: Feature, frame: Frame) -> shapely.Geometry:
    return shapely.transform(
        shapely.geometry.shape(feature.geometry),
        lambda at: np.column_stack(frame.from_lonlat(at[:, 0], at[:, 1])),
    )
