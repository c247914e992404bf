"""Read what the study runs from the file that fixes it."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from pathlib import Path

PLAN = Path(__file__).with_name("plan.toml")


@dataclass(frozen=True)
class Part:
    """Hold what one part of the study runs.

    Attributes
    ----------
    name : str
    seed, plates, per_world : int
        Seed of all its draws, plates in all, plates that share a world.
    """

    name: str
    seed: int
    plates: int
    per_world: int

    def worlds(self) -> list[range]:
        """Return the numbers of the plates of each world."""
        step = self.per_world
        return [
            range(first, min(first + step, self.plates))
            for first in range(0, self.plates, step)
        ]


@dataclass(frozen=True)
class Plan:
    """Hold the parts of the study and what they share.

    Attributes
    ----------
    parts : dict of str to Part
    ground_km2 : float
        Ground searched about each plate [km2].
    near_enough_m : float
        How close an answer must be [m].
    """

    parts: dict[str, Part]
    ground_km2: float
    near_enough_m: float


def read_plan(path: Path = PLAN) -> Plan:
    """Return the plan as it stands in its file."""
    said = tomllib.loads(path.read_text(encoding="utf-8"))
    parts = {
        name: Part(name, **table)
        for name, table in said.items()
        if isinstance(table, dict)
    }
    return Plan(parts, said["ground_km2"], said["near_enough_m"])
