"""Group the evidence of a problem, and take parts of it away."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from dataclasses import replace

from wherestood.evidence.items import Item, Statement
from wherestood.fix.problem import Problem

__all__ = [
    "RIDGES",
    "SKYLINE",
    "TIES",
    "all_but",
    "groups_of",
    "kinds_of",
    "of_plate",
    "only",
    "said_by_people",
    "skylines_of",
    "without",
]

#: Names of what was traced, as a group and as its only item.
SKYLINE, RIDGES = "skyline", "ridge lines"
#: Of a panorama: its tie marks, and all that was traced on its plates.
TIES, _TRACED = "tie marks", "skylines, ridge lines and ties"
_MARKS, _SAID, _OTHERS = "marks", "what people say", "what needs no camera"
_SHAPES = "upright edges, waters and sizes"


def groups_of(problem: Problem) -> dict[str, tuple[str, ...]]:
    """Return each group of the evidence with the ids of its items.

    Notes
    -----
    An item without a group is one by itself; so is a skyline, and so are all ridge
    lines of a plate together: they were traced in one go. Of a panorama the names say
    of which plate, and all tie marks are one group.
    """
    named: dict[str, list[str]] = {}
    for name in _traced(problem):
        named[name] = [name]
    if _has_ties(problem):
        named[TIES] = [TIES]
    for item in _items(problem):
        named.setdefault(item.group or item.id, []).append(item.id)
    return {name: tuple(ids) for name, ids in named.items()}


def kinds_of(problem: Problem) -> dict[str, tuple[str, ...]]:
    """Return the evidence divided by how it was come by, with the ids of the items."""
    traced = list(_traced(problem))
    # Ridge lines weigh cameras, and find none by themselves.
    named = {}
    if problem.beside is not None:
        ties = [TIES] if _has_ties(problem) else []
        named = {_TRACED: [*traced, *ties]} if traced else {}
    elif traced:
        named = {" and ".join(traced): traced}
    for plate in problem.plates:
        for mark in plate.marks.marks:
            named.setdefault(_MARKS, []).append(mark.id)
        for shape in plate.seen.items.items:
            named.setdefault(_SHAPES, []).append(shape.id)
        for item in plate.free.items if plate.free else ():
            kind = _SAID if isinstance(item, Statement) else _OTHERS
            named.setdefault(kind, []).append(item.id)
    return {name: tuple(ids) for name, ids in named.items()}


def said_by_people(problem: Problem) -> tuple[str, ...]:
    """Return the ids of what people say of the place."""
    return kinds_of(problem).get(_SAID, ())


def without(problem: Problem, ids: Collection[str]) -> Problem:
    """Return the problem less some items."""
    if problem.beside is None:
        return _plate_without(problem, ids, SKYLINE, RIDGES)
    first, *others = (
        _plate_without(plate, ids, of_plate(SKYLINE, k), of_plate(RIDGES, k))
        for k, plate in enumerate(problem.plates)
    )
    beside = replace(problem.beside, plates=tuple(others))
    if TIES in ids:
        beside = beside.without_ties()
    return replace(first, beside=beside)


def _plate_without(
    plate: Problem, ids: Collection[str], skyline: str, ridges: str
) -> Problem:
    """Return one plate less some items."""
    changed = replace(plate, seen=plate.seen.without(ids))
    if skyline in ids:
        changed = changed.without_skyline()
    if ridges in ids:
        changed = replace(changed, ridges=())
    if plate.free is not None:
        left = tuple(item for item in plate.free.items if item.id not in ids)
        free = replace(plate.free, items=left) if left else None
        changed = replace(changed, free=free)
    return changed


def only(problem: Problem, ids: Collection[str]) -> Problem:
    """Return the problem with some of its items and no others."""
    return without(problem, all_but(problem, ids))


def all_but(problem: Problem, ids: Collection[str]) -> frozenset[str]:
    """Return the ids of all items of a problem but some."""
    every = {name for group in groups_of(problem).values() for name in group}
    return frozenset(every - set(ids))


def skylines_of(problem: Problem) -> tuple[str, ...]:
    """Return the names of all skylines."""
    if problem.beside is None:
        return (SKYLINE,) if problem.has_skyline else ()
    return tuple(
        of_plate(SKYLINE, k)
        for k, plate in enumerate(problem.plates)
        if plate.has_skyline
    )


def of_plate(name: str, plate: int) -> str:
    """Return the name of what was traced on a plate of a panorama, from 0 on."""
    return f"{name} of plate {plate + 1}"


def _traced(problem: Problem) -> Iterator[str]:
    for k, plate in enumerate(problem.plates):
        for name, there in ((SKYLINE, plate.has_skyline), (RIDGES, bool(plate.ridges))):
            if there:
                yield name if problem.beside is None else of_plate(name, k)


def _has_ties(problem: Problem) -> bool:
    return problem.beside is not None and len(problem.beside.ties.pair) > 0


def _items(problem: Problem) -> Iterator[Item]:
    for plate in problem.plates:
        yield from plate.marks.marks
        yield from plate.seen.items.items
        yield from plate.free.items if plate.free else ()
