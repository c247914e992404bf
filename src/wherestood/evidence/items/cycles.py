"""Find orders that contradict one another."""

from __future__ import annotations

from wherestood.errors import EvidenceError
from wherestood.evidence.items.evidence import Evidence
from wherestood.evidence.items.reference import id_of
from wherestood.evidence.items.relations import Order

__all__ = ["orders_in_cycles"]


def orders_in_cycles(evidence: Evidence) -> tuple[EvidenceError, ...]:
    """Find the orders that close a circle, such as A left of B, B left of A.

    Parameters
    ----------
    evidence : Evidence
        Whose orders are looked at in the order given.

    Returns
    -------
    tuple of EvidenceError
        One for each order that contradicts those before it, naming them all;
        without these orders the rest agree.

    Notes
    -----
    Marks and features are told apart: two marks on one feature may differ in where
    on it they are. Left to right and top to bottom are two separate questions; of
    above and below, foot and top are.
    """
    found: list[EvidenceError] = []
    after: dict[tuple[str, str], list[tuple[str, Order]]] = {}
    for order in evidence.orders:
        question = "sideways" if order.sideways else order.at
        first, second = id_of(order.first), id_of(order.second)
        way = _way(after, question, second, first)
        if way is None:
            after.setdefault((question, first), []).append((second, order))
            continue
        others = ", ".join(repr(other.id) for other in way)
        found.append(
            order.refusal(
                "",
                f"it says that {id_of(order.a)!r} is {order.relation} "
                f"{id_of(order.b)!r}, against {others}",
                "They cannot all be so: look at the plate again and take one out.",
            )
        )
    return tuple(found)


def _way(
    after: dict[tuple[str, str], list[tuple[str, Order]]],
    question: str,
    start: str,
    goal: str,
) -> list[Order] | None:
    """Return the orders that lead from one detail to another, None without."""
    came: dict[str, tuple[str, Order] | None] = {start: None}
    waiting = [start]
    while waiting:
        at = waiting.pop(0)
        if at == goal:
            return _back(came, at)
        for following, order in after.get((question, at), []):
            if following not in came:
                came[following] = (at, order)
                waiting.append(following)
    return None


def _back(came: dict[str, tuple[str, Order] | None], at: str) -> list[Order]:
    orders: list[Order] = []
    while (step := came[at]) is not None:
        at, order = step
        orders.append(order)
    return orders[::-1]
