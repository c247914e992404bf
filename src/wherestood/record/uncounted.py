"""Find evidence that was given and counted nothing, and say why."""

from __future__ import annotations

from dataclasses import dataclass

from wherestood.evidence.dependence import repeats
from wherestood.evidence.items import Item, Mark
from wherestood.fix.camera_facts import USED
from wherestood.fix.result import Fix
from wherestood.record.inputs import FixInputs
from wherestood.record.item_words import item_name

__all__ = ["Uncounted", "uncounted"]

#: Lines traced on the plate have sentences of their own.
_LINES = ("skyline", "ridge line")
#: What may be said of the camera and is not used: its words, and why.
_CAMERA = {
    "principal_distance_least_mm": (
        "the least distance from lens to plate",
        "the search takes the limits usual in the trade",
    ),
    "principal_distance_most_mm": (
        "the greatest distance from lens to plate",
        "the search takes the limits usual in the trade",
    ),
    "plate_size": ("the size of the plate", "it is given when the scan is opened"),
    "plate_corners_px": (
        "the corners of the plate",
        "the search takes the whole scan for the plate",
    ),
}


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
    for field, (words, why) in _CAMERA.items():
        if field not in USED and getattr(evidence.camera, field) is not None:
            found.append(Uncounted(field, "camera", f"Of the camera, {words}", why))
    return tuple(found)


def _why(item: Item, repeated: dict[str, str]) -> str:
    if item.id in repeated:
        return f"it only repeats what is known ({repeated[item.id]})"
    if isinstance(item, Mark) and item.held_back:
        return "it is held back, to test the answer by"
    return "it is tied to nothing on the ground"
