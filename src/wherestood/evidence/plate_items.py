"""Make ready what is marked on a plate beside marks: edges, waters and sizes."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from wherestood.evidence.directions import directions
from wherestood.evidence.item_rows import (
    ACROSS,
    AIM,
    EDGE,
    ITEM,
    UPRIGHT,
    WATER,
)
from wherestood.evidence.items import (
    Evidence,
    KnownSize,
    PlumbEdge,
    SeaHorizon,
    WaterLevel,
)
from wherestood.evidence.items.item import Item
from wherestood.evidence.items.on_plate import TIDE_SD_M, Point
from wherestood.evidence.layout import geometry_in_frame
from wherestood.evidence.placed import Candidates, Placement
from wherestood.evidence.shared_errors import ERRORS, SharedErrors, errors_of
from wherestood.evidence.shores import Water, level_table, wet_nodes
from wherestood.evidence.stations import Stations
from wherestood.evidence.water_rows import LEVEL
from wherestood.terrain.horizon import HorizonModel

__all__ = ["NO_ITEMS", "ItemTable", "points_on_plate", "size_candidates", "waters_of"]

Array = NDArray[np.float64]
Level = WaterLevel | SeaHorizon

#: What is marked as upright and is not leans as much as this either way [deg], any
#: amount alike: more, and nobody would mark it. Common practice.
BLUNDER_LEAN_DEG = 15.0
#: Points of one edge of a water lie this near a line even where it is another water's
#: [share of the diagonal]. Common practice.
BLUNDER_LINE = 0.05
#: Where nobody knows how far off a thing is: middling distance [m] and sd of its log.
#: Common practice: from over the road to across a valley.
ANY_DISTANCE_M, ANY_DISTANCE_LN_SD = 150.0, 1.5


@dataclass(frozen=True)
class ItemTable:
    """Hold the edges, waters and sizes of one hand of a plate, as scored.

    Attributes
    ----------
    points : (points, 5) float64 array
        As `MarkTable.plate`.
    rows : (items, 7) float64 array
        As `item_rows.ITEM`.
    log_weight : (sizes, candidates) float64 array
    where : (sizes, candidates, 2) int64 array
    error_sd_m : (sizes, candidates, 4) float64 array
        Of what sizes belong to, as of `MarkTable`.
    items : tuple of Item
        In the order of ``rows``.
    sizes : tuple of KnownSize
        In the order of ``log_weight``.
    candidates : tuple of Candidates or None
        Where each size's thing may be; None where no feature is named.
    waters : tuple of Water
        By the number in ``rows``.
    wet : tuple of bool array or None
        Nodes of the terrain that are each water, where the terrain is asked.
    model : HorizonModel or None
    farthest_m : float
        How far land is looked for [m].
    """

    points: Array
    rows: Array
    log_weight: Array
    where: NDArray[np.int64]
    error_sd_m: Array
    items: tuple[Item, ...] = ()
    sizes: tuple[KnownSize, ...] = ()
    candidates: tuple[Candidates | None, ...] = ()
    waters: tuple[Water, ...] = ()
    wet: tuple[NDArray[np.bool_] | None, ...] = ()
    model: HorizonModel | None = None
    farthest_m: float = 30_000.0

    @classmethod
    def of(
        cls,
        items: Sequence[Item],
        waters: Sequence[Water],
        placement: Placement,
        shared: SharedErrors,
        width_px: float,
        height_px: float,
        model: HorizonModel | None,
        farthest_m: float = 30_000.0,
    ) -> ItemTable:
        """Make ready edges, waters and sizes.

        Parameters
        ----------
        items : sequence of Item
            Of these kinds, none a repeat of others.
        waters : sequence of Water
            Of each water level and sea horizon among them, in order (`waters_of`).
        model : HorizonModel or None
            The terrain; needed with waters.
        """
        if not items:
            return NO_ITEMS
        diagonal = math.hypot(width_px, height_px)
        tall, wide = height_px / diagonal, width_px / diagonal
        points: list[Array] = []
        rows: list[tuple[float, ...]] = []
        sizes: list[KnownSize] = []
        levels = iter(enumerate(waters))
        for item in items:
            first = sum(len(part) for part in points)
            assert isinstance(item, PlumbEdge | WaterLevel | SeaHorizon | KnownSize)
            marked = item.points_px
            points.append(points_on_plate(marked, item.sd_px, width_px, height_px))
            trust = min(item.credence, 1.0 - 1e-9)
            good, bad = math.log(trust), math.log1p(-trust)
            if isinstance(item, PlumbEdge):
                bad -= math.log(math.radians(2.0 * BLUNDER_LEAN_DEG))
                lean = math.radians(item.lean_sd_deg)
                rows.append((EDGE, first, 2, good, bad, lean, 0))
            elif isinstance(item, KnownSize):
                upright = item.lies == "upright"
                bad -= math.log(tall if upright else wide)
                kind = UPRIGHT if upright else ACROSS
                rows.append((kind, first, 2, good, bad, len(sizes), 0))
                sizes.append(item)
            else:
                number, water = next(levels)
                bad -= math.log(tall) + (len(marked) - 1) * math.log(BLUNDER_LINE)
                where = shared.waters[water.id]
                rows.append((WATER, first, len(marked), good, bad, number, where))
        each = size_candidates(sizes, placement)
        most = max((points.count for points in each if points is not None), default=1)
        weight = np.zeros((len(sizes), most))
        where_of = np.full((len(sizes), most, 2), -1, dtype=np.int64)
        error_sd_m = np.zeros((len(sizes), most, ERRORS))
        for row, (size, of_size) in enumerate(zip(sizes, each, strict=True)):
            trust = min(size.credence, 1.0 - 1e-9)
            if of_size is None:
                weight[row, 0] = trust
                continue
            count = of_size.count
            weight[row, :count] = trust * of_size.weight
            where_of[row, :count], error_sd_m[row, :count] = errors_of(
                of_size, placement, shared, top=False
            )
        with np.errstate(divide="ignore"):
            log_weight = np.log(weight)
        wet = []
        for water in waters:
            asked = water.edge is None and not water.sea
            assert model is not None
            wet.append(
                wet_nodes(model, water.level_m, water.level_sd_m) if asked else None
            )
        return cls(
            np.concatenate(points),
            np.array(rows, dtype=np.float64),
            log_weight,
            where_of,
            error_sd_m,
            tuple(items),
            tuple(sizes),
            each,
            tuple(waters),
            tuple(wet),
            model,
            farthest_m,
        )

    def mirrored(self) -> ItemTable:
        """Return the items of the plate seen from behind."""
        points = self.points.copy()
        points[:, (0, 4)] *= -1.0
        return replace(self, points=points)

    def doubled(self) -> ItemTable:
        """Return the items, and what they belong to, twice as doubtful."""
        rows = self.rows.copy()
        # Of an edge that column is how far it may lean, of others a number.
        rows[rows[:, 0] == EDGE, 5] *= 2.0
        return replace(
            self,
            points=self.points * np.array((1.0, 1.0, 2.0, 1.0, 1.0)),
            rows=rows,
            error_sd_m=2.0 * self.error_sd_m,
            sizes=tuple(_doubled_size(size) for size in self.sizes),
            candidates=tuple(one and one.doubled() for one in self.candidates),
            waters=tuple(
                replace(
                    water,
                    level_sd_m=2.0 * water.level_sd_m,
                    edge_sd_m=2.0 * water.edge_sd_m,
                )
                for water in self.waters
            ),
        )

    def aims(self, stations: Stations) -> Array:
        """Return how large known sizes should show from stations, as `AIM`."""
        shape = (stations.count, *self.log_weight.shape)
        found = np.zeros((*shape, AIM))
        for row, (size, points) in enumerate(
            zip(self.sizes, self.candidates, strict=True)
        ):
            length_var = (size.sd_m / size.length_m) ** 2
            if points is None:
                distance, ln_sd = _distance(size)
                found[:, row, :, 0] = math.log(size.length_m / distance)
                found[:, row, :, 1:3] = ln_sd**2 + length_var
                continue
            count = points.count
            seen = directions(stations, points)
            here = found[:, row, :count]
            sine, cosine = np.sin(seen.azimuth_rad), np.cos(seen.azimuth_rad)
            soft = np.hypot(seen.by_feature[..., 0], seen.by_feature[..., 1])
            variance = points.sd_m**2 + points.shift_sd_m**2
            shared = np.sum(self.error_sd_m[row, :count, :2] ** 2, axis=-1)
            here[..., 0] = np.log(size.length_m / seen.distance_m)
            here[..., 1] = variance * soft**2 + length_var
            here[..., 2] = np.maximum(variance - shared, 0.0) * soft**2 + length_var
            here[..., 3] = sine / seen.distance_m
            here[..., 4] = cosine / seen.distance_m
            here[..., 5] = -sine * soft
            here[..., 6] = -cosine * soft
        return found

    def levels(self, stations: Stations) -> Array:
        """Return the edges of waters from stations, as `item_rows.LEVEL`."""
        if not self.waters:
            return np.zeros((stations.count, 0, 1, LEVEL))
        assert self.model is not None
        each = [
            level_table(water, stations, self.model, wet, self.farthest_m)
            for water, wet in zip(self.waters, self.wet, strict=True)
        ]
        most = max(table.shape[1] for table in each)
        return np.stack([_spread(table, most) for table in each], axis=1)


NO_ITEMS = ItemTable(
    np.zeros((0, 5)),
    np.zeros((0, ITEM)),
    np.zeros((0, 1)),
    np.zeros((0, 1, 2), dtype=np.int64),
    np.zeros((0, 1, ERRORS)),
)


def points_on_plate(
    points_px: Iterable[Point], sd_px: float, width_px: float, height_px: float
) -> Array:
    """Return points of a scan as the camera's equations take them.

    Returns
    -------
    (points, 5) float64 array
        X, Y and standard error over the diagonal, Y up, and the second and third
        order warp at X.
    """
    diagonal = math.hypot(width_px, height_px)
    at = np.asarray(tuple(points_px), dtype=np.float64).reshape(-1, 2)
    x = (at[:, 0] - width_px / 2.0) / diagonal
    y = (height_px / 2.0 - at[:, 1]) / diagonal
    across = x / (width_px / diagonal / 2.0)
    return np.column_stack(
        (
            x,
            y,
            np.full(len(at), sd_px / diagonal),
            1.5 * across**2 - 0.5,
            2.5 * across**3 - 1.5 * across,
        )
    )


def size_candidates(
    sizes: Sequence[KnownSize], placement: Placement
) -> tuple[Candidates | None, ...]:
    """Return where the thing of each size may be; None where no feature is named."""
    return tuple(
        placement.candidates(size.speaks_of()[0]) if size.speaks_of() else None
        for size in sizes
    )


def waters_of(
    items: Sequence[Level],
    evidence: Evidence,
    placement: Placement,
    model: HorizonModel,
) -> tuple[Water, ...]:
    """Return the water of each water level and sea horizon.

    Notes
    -----
    Of one shore, or of one height, there is one water, and one error of its level:
    however many items and points name it, its height is told once. That error is at
    least a metre: tide, seasons and the model's datum are in it.
    """
    frame = model.terrain.frame
    found = []
    for item in items:
        sd_m = max(item.height_sd_m, TIDE_SD_M)
        if isinstance(item, SeaHorizon):
            name = f"level {item.height_m:g}"
            found.append(Water(name, item.height_m, sd_m, sea=True))
            continue
        level_m = math.nan if item.height_m is None else item.height_m
        if not item.speaks_of():
            name = "the terrain's" if item.height_m is None else f"level {level_m:g}"
            found.append(Water(name, level_m, sd_m))
            continue
        feature = evidence.feature(item.speaks_of()[0])
        if item.height_m is None:
            placed = placement.features[feature.id]
            level_m = float(np.nanmedian(placed.foot_m))
            sd_m = math.hypot(sd_m, placed.foot_sd_m)
        edge = geometry_in_frame(feature.place, frame)
        found.append(Water(feature.id, level_m, sd_m, edge, feature.sd_m))
    return tuple(found)


def _doubled_size(size: KnownSize) -> KnownSize:
    """Return a known size whose length and distance are known half as well."""
    sd_m = size.distance_sd_m
    if size.distance_m is not None:
        sd_m = 2.0 * size.distance_m * _distance(size)[1]
    return replace(size, sd_m=2.0 * size.sd_m, distance_sd_m=sd_m)


def _distance(size: KnownSize) -> tuple[float, float]:
    """Return how far off a thing is that no feature tells, and the sd of its log."""
    if size.distance_m is None:
        return ANY_DISTANCE_M, ANY_DISTANCE_LN_SD
    sd_m = size.distance_sd_m or 0.1 * size.distance_m
    return size.distance_m, sd_m / size.distance_m


def _spread(table: Array, bearings: int) -> Array:
    """Return a table at more bearings: of a water that is alike all round, or not."""
    if table.shape[1] in (1, bearings):
        return np.broadcast_to(table, (len(table), bearings, LEVEL))
    at = np.arange(bearings) * (table.shape[1] / bearings)
    return table[:, np.rint(at).astype(int) % table.shape[1]]
