"""Keep what was drawn on a plate as features of the map, with their doubt."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import shapely

from wherestood.daybook.book import Daybook
from wherestood.daybook.tables import Feature, FeatureName
from wherestood.daybook.traced_on_plate import DRAWN
from wherestood.ground.drawn import MappedShape
from wherestood.ground.mapping import Mapping
from wherestood.ground.points import UNSURE, WHAT
from wherestood.ground.sizes import height_above, pixel_at
from wherestood.record.doubt import area_in_words, distance_in_words
from wherestood.record.size_words import measured_words, pixel_words

__all__ = ["DrawnOn", "ToldOfDrawn", "keep_drawn", "told_of_drawn"]

#: Nine in ten of a plane's scatter, one standard error a unit, lie within so many.
_NINE_IN_TEN = 2.146
#: The same thing measured again is as tall.
_SEED = 1


@dataclass(frozen=True)
class DrawnOn:
    """Say where something was drawn.

    Attributes
    ----------
    plate_id, plate, fix : str
        Id and key of the plate, key of the fix whose cameras carried it.
    shape : str
        Point, line or outline.
    points_px : sequence of (x, y)
        On the upright scan [px].
    """

    plate_id: str
    plate: str
    fix: str
    shape: str
    points_px: Sequence[tuple[float, float]]


@dataclass(frozen=True)
class ToldOfDrawn:
    """Hold what a drawn thing is on the map.

    Attributes
    ----------
    geometry : dict or None
        GeoJSON in longitude and latitude.
    sd_m : float or None
        Standard error of its place, at its worst [m].
    sentences : tuple of str
    tall_m, tall_sd_m : float or None
        How tall it is, and its standard error, where that was measured [m].
    """

    geometry: dict[str, Any] | None
    sd_m: float | None
    sentences: tuple[str, ...]
    tall_m: float | None = None
    tall_sd_m: float | None = None

    def with_pixel(self, mapping: Mapping, at_px: tuple[float, float]) -> ToldOfDrawn:
        """Return the same with how much a pixel covers there, if that can be told."""
        pixel = pixel_at(mapping, *at_px, np.random.default_rng(_SEED))
        if pixel.why_not:
            return self
        return replace(self, sentences=(*self.sentences, pixel_words(pixel)))

    def with_height(
        self,
        mapping: Mapping,
        foot_px: tuple[float, float],
        top_px: tuple[float, float],
    ) -> ToldOfDrawn:
        """Return the same with how tall a thing is, from its foot and its top."""
        tall = height_above(mapping, foot_px, top_px, np.random.default_rng(_SEED))
        told = replace(
            self, sentences=(measured_words("Height", tall), *self.sentences)
        )
        if tall.why_not:
            return told
        return replace(
            told, tall_m=round(tall.value_m, 3), tall_sd_m=round(tall.sd_m, 3)
        )


def told_of_drawn(mapped: MappedShape, mapping: Mapping) -> ToldOfDrawn:
    """Return a mapped shape as a daybook keeps it, and in words.

    Parameters
    ----------
    mapped : MappedShape
    mapping : Mapping
        What it was mapped by.
    """
    sentences = [
        f"{count} of its points could not be placed: {reason}."
        for reason, count in mapped.flagged.items()
    ]
    if mapped.geometry is None:
        if WHAT[UNSURE] in mapped.flagged:
            sentences.append(
                "A surer camera position, or a finer elevation model, would tell more."
            )
        return ToldOfDrawn(None, None, ("Nothing of it can be placed.", *sentences))
    said = f"{distance_in_words(mapped.nearest_m)} off"
    if mapped.farthest_m > 1.02 * mapped.nearest_m:
        said = (
            f"{distance_in_words(mapped.nearest_m)} to "
            f"{distance_in_words(mapped.farthest_m)} off"
        )
    first = (
        f"It lies {said}, at {mapped.height_m:.0f} m; nine in ten within "
        f"{distance_in_words(mapped.doubt_m)}"
    )
    if mapped.most_doubt_m > 1.1 * mapped.doubt_m:
        first += f", {distance_in_words(mapped.most_doubt_m)} at the worst of it"
    sentences.insert(0, f"{first}.")
    if mapped.geometry.area > 0.0:
        sentences.append(f"It covers {area_in_words(mapped.geometry.area)}.")
    elif mapped.geometry.length > 0.0:
        length = distance_in_words(mapped.geometry.length)
        sentences.append(f"It is {length} long over the ground.")
    if mapped.broken:
        sentences.append(
            f"It is broken {mapped.broken} times: ground that the camera does not see "
            "lies between."
        )
    if mapped.torn:
        sentences.append("Some of it may be on a nearer or a farther hill.")
    frame = mapping.ground.model.terrain.frame
    on_earth = shapely.transform(
        mapped.geometry, lambda at: np.column_stack(frame.to_lonlat(at[:, 0], at[:, 1]))
    )
    geometry = _lists(shapely.geometry.mapping(on_earth))
    return ToldOfDrawn(geometry, mapped.most_doubt_m / _NINE_IN_TEN, tuple(sentences))


def keep_drawn(
    book: Daybook,
    told: ToldOfDrawn,
    of: DrawnOn,
    name: str,
    what: str,
    *,
    person: str,
    why: str = "",
) -> str:
    """Keep a drawn thing as a feature; return its key.

    Parameters
    ----------
    book : Daybook
    told : ToldOfDrawn
        With a geometry.
    of : DrawnOn
    name, what : str
        What it is called, and what it is; either may be empty.
    person, why : str
        Who keeps it, and why.
    """
    with book.writing(person, why or f"drawn on {of.plate}") as session:
        feature = Feature(
            what=what or None,
            geometry=told.geometry,
            sd_m=None if told.sd_m is None else round(told.sd_m, 2),
            object_height_m=told.tall_m,
            object_height_sd_m=told.tall_sd_m,
            source_words=f"Drawn on plate {of.plate}, carried to the map by {of.fix}",
            note=" ".join(
                (
                    *told.sentences,
                    "It was placed by that answer: it is no evidence of where the same "
                    "camera stood, nor of a boundary or title.",
                )
            ),
            imported={
                DRAWN: {
                    "plate": of.plate_id,
                    "fix": of.fix,
                    "shape": of.shape,
                    "points_px": [list(point) for point in of.points_px],
                }
            },
        )
        session.add(feature)
        session.flush()
        if name:
            session.add(FeatureName(feature_id=feature.id, name=name))
        return feature.key


def _lists(geometry: dict[str, Any]) -> dict[str, Any]:
    """Return a geometry as JSON gives it back."""

    def lists(value: Any) -> Any:
        if isinstance(value, tuple | list):
            return [lists(part) for part in value]
        return float(value)

    return {"type": geometry["type"], "coordinates": lists(geometry["coordinates"])}
