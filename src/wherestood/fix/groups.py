"""Group the evidence of a problem, and take parts of it away."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from dataclasses import replace

import numpy as np

from wherestood.evidence.items import Item, Statement
from wherestood.fix.problem import Problem

__all__ = [
    "RIDGES",
    "SKYLINE",
    "all_but",
    "groups_of",
    "kinds_of",
    "only",
    "said_by_people",
    "without",
]

#: Names of what was traced, as a group and as its only item.
SKYLINE, RIDGES = "skyline", "ridge lines"
_MARKS, _SAID, _OTHERS = "marks", "what people say", "what needs no camera"
_SHAPES = "upright edges, waters and sizes"


def groups_of(problem: Problem) -> dict[str, tuple[str, ...]]:
    """Return each group of the evidence with the ids of its items.

    Notes
    -----
    An item without a group is one by itself; so is the skyline, and so are all ridge
    lines together: they were traced in one go.
    """
    named: dict[str, list[str]] = {}
    for name in _traced(problem):
        named[name] = [name]
    for item in _items(problem):
        named.setdefault(item.group or item.id, []).append(item.id)
    return {name: tuple(ids) for name, ids in named.items()}


def kinds_of(problem: Problem) -> dict[str, tuple[str, ...]]:
    """Return the evidence divided by how it was come by, with the ids of the items."""
    traced = list(_traced(problem))
    # Ridge lines weigh cameras, and find none by themselves.
    named = {" and ".join(traced): traced} if traced else {}
    for mark in problem.marks.marks:
        named.setdefault(_MARKS, []).append(mark.id)
    for item in problem.seen.items.items:
        named.setdefault(_SHAPES, []).append(item.id)
    for item in problem.free.items if problem.free else ():
        kind = _SAID if isinstance(item, Statement) else _OTHERS
        named.setdefault(kind, []).append(item.id)
    return {name: tuple(ids) for name, ids in named.items()}


def said_by_people(problem: Problem) -> tuple[str, ...]:
    """Return the ids of what people say of the place."""
    return kinds_of(problem).get(_SAID, ())


def without(problem: Problem, ids: Collection[str]) -> Problem:
    """Return the problem less some items."""
    changed = replace(problem, seen=problem.seen.without(ids))
    if SKYLINE in ids:
        hands = tuple(
            replace(hand, samples=replace(hand.samples, table=np.zeros((0, 5))))
            for hand in problem.hands
        )
        seen = changed.seen.without_skyline()
        changed = replace(changed, hands=hands, seen=seen)
    if RIDGES in ids:
        changed = replace(changed, ridges=())
    if problem.free is not None:
        left = tuple(item for item in problem.free.items if item.id not in ids)
        free = replace(problem.free, items=left) if left else None
        changed = replace(changed, free=free)
    return changed


def only(problem: Problem, ids: Collection[str]) -> Problem:
    """Return the problem with some of its items and no others."""
    return without(problem, all_but(problem, ids))


def all_but(problem: Problem, ids: Collection[str]) -> frozenset[str]:
    """Return the ids of all items of a problem but some."""
    every = {name for group in groups_of(problem).values() for name in group}
    return frozenset(every - set(ids))


def _traced(problem: Problem) -> Iterator[str]:
    if problem.has_skyline:
        yield SKYLINE
    if problem.ridges:
        yield RIDGES


def _items(problem: Problem) -> Iterator[Item]:
    yield from problem.marks.marks
    yield from problem.seen.items.items
    yield from problem.free.items if problem.free else ()
