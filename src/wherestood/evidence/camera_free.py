"""Weigh all evidence that needs no camera, together."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from wherestood.evidence.dependence import repeats
from wherestood.evidence.distance import weigh_distance
from wherestood.evidence.in_line import weigh_in_line
from wherestood.evidence.in_lines_together import weigh_in_lines
from wherestood.evidence.items.evidence import Evidence
from wherestood.evidence.items.item import Item
from wherestood.evidence.items.relations import (
    Hidden,
    InLine,
    KnownDistance,
    Order,
    Seen,
)
from wherestood.evidence.items.statement import Statement
from wherestood.evidence.lean import Lean
from wherestood.evidence.order import weigh_order
from wherestood.evidence.placed import Placement, place_evidence
from wherestood.evidence.said import statement_area, weigh_statement
from wherestood.evidence.stations import Stations
from wherestood.evidence.visibility import SightNoise, weigh_hidden, weigh_seen
from wherestood.evidence.weighed import Weighed
from wherestood.terrain.horizon import HorizonModel

__all__ = ["CameraFree", "CameraFreeWeights", "camera_free"]

Array = NDArray[np.float64]


@dataclass(frozen=True)
class CameraFreeWeights:
    """Hold how well stations explain the items.

    Attributes
    ----------
    ids : tuple of str
        The items weighed, in the order of the columns.
    log_likelihood : (stations,) float64 array
        Of all of them together, sharing the errors of what in lines share.
    each : (stations, items) float64 array
        Of each by itself.
    blunder_log_odds : (stations, items) float64 array
        Log odds that each is a blunder, were the camera at that station.
    """

    ids: tuple[str, ...]
    log_likelihood: Array
    each: Array
    blunder_log_odds: Array


@dataclass(frozen=True)
class CameraFree:
    """Hold camera-free evidence, made ready to be weighed often.

    Attributes
    ----------
    items : tuple of Item
        What is weighed; repeats of others left out.
    repeated : dict of str to str
        What is not, and why.
    placement : Placement
        Where features and marks are.
    areas : mapping of str to shapely geometry
        What each statement means, frame metres, by the statement's id.
    ground : shapely geometry
        The ground searched, frame metres.
    model : HorizonModel
        The terrain.
    lean : Lean
        What is believed of the camera where a gap or a width needs it.
    noise : SightNoise
        What is believed of cover on crests.
    """

    items: tuple[Item, ...]
    repeated: dict[str, str]
    placement: Placement
    areas: Mapping[str, BaseGeometry]
    ground: BaseGeometry
    model: HorizonModel
    lean: Lean
    noise: SightNoise

    def doubled(self) -> CameraFree:
        """Return readings, features, ground and cover twice as doubtful.

        What people say has no size.
        """
        return replace(
            self,
            items=tuple(_doubled(item) for item in self.items),
            placement=self.placement.doubled(),
            noise=self.noise.doubled(),
        )

    def weigh(
        self,
        stations: Stations,
        *,
        leaving_out: Collection[str] = (),
        in_picture: Mapping[str, Array] | None = None,
    ) -> CameraFreeWeights:
        """Weigh the items at stations.

        Parameters
        ----------
        stations : Stations
            For which they are weighed.
        leaving_out : collection of str
            Ids of items that do not count this time.
        in_picture : mapping of str to (stations,) float64 array, optional
            Of hidden items, the probability that the picture takes the feature
            in. Without it any direction is as likely as another, and what is
            hidden says little.
        """
        chosen = [item for item in self.items if item.id not in leaving_out]
        each = np.empty((stations.count, len(chosen)))
        odds = np.empty((stations.count, len(chosen)))
        for column, item in enumerate(chosen):
            weighed = self._weigh(item, stations, in_picture or {})
            each[:, column] = weighed.log_likelihood
            odds[:, column] = weighed.blunder_log_odds
        in_lines = [i for i, item in enumerate(chosen) if isinstance(item, InLine)]
        lines = [item for item in chosen if isinstance(item, InLine)]
        together, line_odds = weigh_in_lines(lines, self.placement, stations, self.lean)
        odds[:, in_lines] = line_odds
        others = np.delete(each, in_lines, axis=1).sum(axis=1)
        return CameraFreeWeights(
            tuple(item.id for item in chosen), others + together, each, odds
        )

    def _weigh(
        self, item: Item, stations: Stations, in_picture: Mapping[str, Array]
    ) -> Weighed:
        placement, lean = self.placement, self.lean
        if isinstance(item, InLine):
            return weigh_in_line(item, placement, stations, lean)
        if isinstance(item, Order):
            return weigh_order(item, placement, stations, lean)
        if isinstance(item, KnownDistance):
            return weigh_distance(item, placement, stations)
        if isinstance(item, Statement):
            return weigh_statement(item, self.areas[item.id], self.ground, stations)
        if isinstance(item, Hidden):
            chance = in_picture.get(item.id, np.full(stations.count, lean.field_share))
            return weigh_hidden(
                item, placement, self.model, stations, self.noise, chance
            )
        assert isinstance(item, Seen)
        return weigh_seen(item, placement, self.model, stations, self.noise)


def _doubled(item: Item) -> Item:
    """Return a reading twice as doubtful."""
    if isinstance(item, InLine):
        return replace(item, sd_deg=2.0 * item.sd_deg, sd_widths=2.0 * item.sd_widths)
    if isinstance(item, Order):
        return replace(item, sd_deg=2.0 * item.sd_deg)
    if isinstance(item, KnownDistance):
        return replace(item, sd_m=2.0 * item.sd_m)
    return item


def camera_free(
    evidence: Evidence,
    model: HorizonModel,
    ground: BaseGeometry,
    lean: Lean,
    noise: SightNoise | None = None,
) -> CameraFree:
    """Make ready all evidence that needs no camera.

    Parameters
    ----------
    evidence : Evidence
        Checked.
    model : HorizonModel
        The terrain.
    ground : shapely geometry
        The ground searched, frame metres.
    lean : Lean
        What is believed of the camera.
    noise : SightNoise, optional
        What is believed of cover on crests.

    Notes
    -----
    Features in several in lines, and in lines of one plan, share their errors. Orders,
    sight lines and distances are taken as if each had its own: they are soft, and
    what one feature's error does to several of them is small beside their steps.
    """
    repeated = repeats(evidence)
    terrain = model.terrain
    kinds = (
        evidence.in_lines,
        evidence.orders,
        evidence.seen,
        evidence.hidden,
        evidence.known_distances,
        evidence.statements,
    )
    return CameraFree(
        tuple(item for kind in kinds for item in kind if item.id not in repeated),
        repeated,
        place_evidence(evidence, terrain.frame, terrain),
        {
            item.id: statement_area(
                item, evidence.feature(item.speaks_of()[0]), terrain.frame, terrain
            )
            for item in evidence.statements
        },
        ground,
        model,
        lean,
        noise or SightNoise(),
    )
