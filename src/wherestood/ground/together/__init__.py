"""Solve several plates together: stations, cameras and the things they share."""

from __future__ import annotations

from wherestood.ground.together.answer import PlateTogether, ThingTogether, Together
from wherestood.ground.together.plate_prior import UNKNOWNS, PlatePrior
from wherestood.ground.together.solve import solve_together
from wherestood.ground.together.told import Habit, Link, Outing, Thing

__all__ = [
    "UNKNOWNS",
    "Habit",
    "Link",
    "Outing",
    "PlatePrior",
    "PlateTogether",
    "Thing",
    "ThingTogether",
    "Together",
    "solve_together",
]
