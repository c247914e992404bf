"""Find items that only repeat what others say."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from wherestood.evidence.items.evidence import Evidence
from wherestood.evidence.items.item import Item
from wherestood.evidence.items.relations import InLine, Order

__all__ = ["repeats", "repeats_of_derived"]


def repeats(evidence: Evidence) -> dict[str, str]:
    """Find the items that are not evidence a second time.

    Parameters
    ----------
    evidence : Evidence
        Checked.

    Returns
    -------
    dict of str to str
        Of each item that only repeats, what it repeats, in plain words. These are:
        items derived from others that are given too (of copied captions only the
        first counts); an in line or order read off two marks that count
        themselves; statements from which the ground searched was drawn.
    """
    found = {
        name: f"taken from {origin!r}"
        for name, origin in repeats_of_derived(evidence.items()).items()
    }
    marks = {mark.id for mark in evidence.marks if mark.identities}
    pairs: tuple[InLine | Order, ...] = (*evidence.in_lines, *evidence.orders)
    for item in pairs:
        if set(item.speaks_of()) <= marks:
            a, b = item.speaks_of()
            found.setdefault(item.id, f"read off the marks {a!r} and {b!r}")
    for name in evidence.ground_from:
        found.setdefault(name, "the ground searched was drawn from it")
    return found


def repeats_of_derived(items: Iterable[Item]) -> dict[str, str]:
    """Return, of every item derived from another that is given, that other's id.

    Of items that all derive from one another the first given counts.
    """
    given: Mapping[str, Item] = {item.id: item for item in items}
    found: dict[str, str] = {}
    for item in given.values():
        origin = _origin(item, given, found)
        if origin is not None:
            found[item.id] = origin
    return found


def _origin(
    item: Item, given: Mapping[str, Item], repeating: Mapping[str, str]
) -> str | None:
    """Return an item that counts, from which this one derives at any remove."""
    seen = {item.id}
    waiting = list(item.derived_from)
    while waiting:
        name = waiting.pop(0)
        if name in seen:
            continue
        seen.add(name)
        if name not in given:
            continue
        # In a circle the first given counts: the ones before are settled already.
        in_circle = _derives(given[name], item.id, given)
        if not in_circle or (
            name not in repeating and _comes_before(name, item.id, given)
        ):
            return name
        waiting.extend(given[name].derived_from)
    return None


def _derives(item: Item, goal: str, given: Mapping[str, Item]) -> bool:
    seen: set[str] = set()
    waiting = [*item.derived_from]
    while waiting:
        name = waiting.pop()
        if name == goal:
            return True
        if name in seen or name not in given:
            continue
        seen.add(name)
        waiting.extend(given[name].derived_from)
    return False


def _comes_before(name: str, other: str, given: Mapping[str, Item]) -> bool:
    order = list(given)
    return order.index(name) < order.index(other)
