"""Find evidence that was given and counted nothing, and say why."""

from __future__ import annotations

from dataclasses import dataclass

from wherestood.evidence.dependence import repeats
from wherestood.evidence.items import Item, Mark
from wherestood.fix.result import Fix
from wherestood.record.inputs import FixInputs
from wherestood.record.item_words import item_name

__all__ = ["Uncounted", "uncounted"]

#: Lines traced on the plate have sentences of their own.
_LINES = ("skyline", "ridge line")


@dataclass(frozen=True)
class Uncounted:
    """Hold an item that counted nothing.

    Attributes
    ----------
    name, kind : str
        Its id, and what kind of evidence it is.
    words : str
        What it is called at the head of a sentence.
    why : str
        Why it counted nothing.
    """

    name: str
    kind: str
    words: str
    why: str


def uncounted(fix: Fix, inputs: FixInputs) -> tuple[Uncounted, ...]:
    """Return the items that were given and counted nothing."""
    evidence = inputs.evidence
    told = {item["id"] for item in fix.evidence}
    repeated = repeats(evidence)
    found = []
    for item in evidence.items():
        if item.kind in _LINES or item.id in told:
            continue
        words = item_name({"id": item.id, "kind": item.kind}, evidence)
        why = _why(item, repeated)
        found.append(
            Uncounted(item.id, item.kind, f"{words[0].upper()}{words[1:]}", why)
        )
    return tuple(found)


def _why(item: Item, repeated: dict[str, str]) -> str:
    if item.id in repeated:
        return f"it only repeats what is known ({repeated[item.id]})"
    if isinstance(item, Mark) and item.held_back:
        return "it is held back, to test the answer by"
    return "it is tied to nothing on the ground"
