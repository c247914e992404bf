"""Put the ground of the plate's years in the place of the elevation model's own."""

from __future__ import annotations

from dataclasses import dataclass

from wherestood.evidence.ground_then import GroundState, changes_of, ground_states
from wherestood.evidence.items import Evidence
from wherestood.evidence.noise import SkylineNoise
from wherestood.fix.settings import LocateSettings
from wherestood.terrain.as_it_was import GroundAsItWas, ground_as_it_was
from wherestood.terrain.ground import StandingGround
from wherestood.terrain.model import Terrain

__all__ = ["GroundThen", "as_ground", "ground_then"]


@dataclass(frozen=True)
class GroundThen:
    """Hold the ground of the plate's years, and what was told of it.

    Attributes
    ----------
    states : tuple of GroundState
        All that is told, whether or not it held.
    ground : GroundAsItWas or None
        The changed ground, its changes those of the states that may have held, in
        their order; None where none did.
    before : Terrain
        The ground as the elevation model has it.
    """

    states: tuple[GroundState, ...]
    ground: GroundAsItWas | None
    before: Terrain


def ground_then(
    known: Evidence, terrain: Terrain, noise: SkylineNoise, settings: LocateSettings
) -> GroundThen | None:
    """Return the ground of the plate's years; None where nothing is told of it."""
    if not known.changed_ground:
        return None
    states = ground_states(known)
    changes = changes_of(states, terrain.frame, noise, settings.surface)
    ground = ground_as_it_was(terrain, changes) if changes else None
    return GroundThen(states, ground, terrain)


def as_ground(terrain: Terrain) -> StandingGround:
    """Return a terrain's own surface, ready to be asked often."""
    return StandingGround(
        terrain.elevation_m, terrain.west_m, terrain.south_m, terrain.cell_m
    )
