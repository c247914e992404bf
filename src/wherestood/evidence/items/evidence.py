"""Hold all the evidence of a plate in one record."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field, fields, replace
from typing import TypeVar

from wherestood.errors import EvidenceError
from wherestood.evidence.items.camera import CameraFacts
from wherestood.evidence.items.changed_ground import ChangedGround
from wherestood.evidence.items.feature import Feature, Plan
from wherestood.evidence.items.item import Item
from wherestood.evidence.items.on_plate import (
    KnownSize,
    Mark,
    PlumbEdge,
    SeaHorizon,
    WaterLevel,
)
from wherestood.evidence.items.reference import Identity
from wherestood.evidence.items.relations import (
    Hidden,
    InLine,
    KnownDistance,
    Order,
    Seen,
)
from wherestood.evidence.items.statement import Statement
from wherestood.evidence.items.traced import RidgeLine, SkylinePiece
from wherestood.plate.skyline import Skyline

__all__ = ["KINDS", "Evidence", "gather"]

_I = TypeVar("_I", bound=Item)


@dataclass(frozen=True)
class Evidence:
    """Hold what is known of a plate, one tuple a kind.

    Items refer to features and marks by id.

    Attributes
    ----------
    plate : str
        Name of the plate.
    plans, features : tuple of Plan, of Feature
        What the items speak of.
    skylines, ridge_lines, marks, in_lines, orders, seen, hidden : tuple
        Items of each kind.
    plumb_edges, water_levels, sea_horizons, known_sizes : tuple
        Items of each kind.
    known_distances, statements : tuple
        Items of each kind.
    camera : CameraFacts
        What is said of lens, plate and footing.
    changed_ground : tuple of ChangedGround
        Ground that was otherwise for some years.
    date : str
        When the plate was exposed, EDTF; empty where not known.
    ground_from : tuple of str
        Ids of the statements from which the ground searched was drawn: they are
        not evidence a second time.
    """

    plate: str = ""
    plans: tuple[Plan, ...] = ()
    features: tuple[Feature, ...] = ()
    skylines: tuple[SkylinePiece, ...] = ()
    ridge_lines: tuple[RidgeLine, ...] = ()
    marks: tuple[Mark, ...] = ()
    in_lines: tuple[InLine, ...] = ()
    orders: tuple[Order, ...] = ()
    seen: tuple[Seen, ...] = ()
    hidden: tuple[Hidden, ...] = ()
    plumb_edges: tuple[PlumbEdge, ...] = ()
    water_levels: tuple[WaterLevel, ...] = ()
    sea_horizons: tuple[SeaHorizon, ...] = ()
    known_sizes: tuple[KnownSize, ...] = ()
    known_distances: tuple[KnownDistance, ...] = ()
    statements: tuple[Statement, ...] = ()
    camera: CameraFacts = field(default_factory=CameraFacts)
    ground_from: tuple[str, ...] = ()
    changed_ground: tuple[ChangedGround, ...] = ()
    date: str = ""

    def items(self) -> Iterator[Item]:
        """Give every item that bears on the station: not what items speak of."""
        for name in KINDS:
            if name not in ("plans", "features", "changed_ground"):
                yield from getattr(self, name)

    def feature(self, name: str) -> Feature:
        """Return the feature of an id."""
        return _found(self.features, name)

    def mark(self, name: str) -> Mark:
        """Return the mark of an id."""
        return _found(self.marks, name)

    def without(self, ids: Iterable[str]) -> Evidence:
        """Return the evidence less the items of some ids."""
        gone = set(ids)
        return replace(
            self,
            **{  # type: ignore[arg-type]
                name: tuple(i for i in getattr(self, name) if i.id not in gone)
                for name in KINDS
            },
        )


#: Field of `Evidence` for each kind of item.
KINDS: dict[str, type[Item]] = {
    "plans": Plan,
    "features": Feature,
    "skylines": SkylinePiece,
    "ridge_lines": RidgeLine,
    "marks": Mark,
    "in_lines": InLine,
    "orders": Order,
    "seen": Seen,
    "hidden": Hidden,
    "plumb_edges": PlumbEdge,
    "water_levels": WaterLevel,
    "sea_horizons": SeaHorizon,
    "known_sizes": KnownSize,
    "known_distances": KnownDistance,
    "statements": Statement,
    "changed_ground": ChangedGround,
}


def gather(things: Iterable[Item | Skyline], plate: str = "") -> Evidence:
    """Bring items together, with the features and marks they hold.

    Parameters
    ----------
    things : iterable of Item and Skyline
        In any order; a bare `Skyline` counts as one piece of skyline.
    plate : str
        Name of the plate.

    Returns
    -------
    Evidence
        Items refer by id; what they held stands among features, plans and marks,
        each once.

    Raises
    ------
    EvidenceError
        If something is no item, or two cameras are described.
    """
    found: dict[str, list[Item]] = {name: [] for name in KINDS}
    cameras: list[CameraFacts] = []
    for thing in things:
        given: object = SkylinePiece(thing) if isinstance(thing, Skyline) else thing
        if isinstance(given, CameraFacts):
            cameras.append(given)
        elif isinstance(given, Item):
            _take(given, found)
        else:
            raise EvidenceError(
                f"A {type(given).__name__} is no item of evidence.",
                "Give a skyline, features, marks, and what is seen of them.",
            )
    if len(cameras) > 1:
        raise EvidenceError(
            "Two descriptions of the camera are given.", "Put all into one."
        )
    return Evidence(
        plate=plate,
        camera=cameras[0] if cameras else CameraFacts(),
        **{name: tuple(items) for name, items in found.items()},  # type: ignore[arg-type]
    )


def _take(item: Item, found: dict[str, list[Item]]) -> str:
    """Put an item, and all it holds, where it belongs; return its id."""
    changed: dict[str, object] = {}
    for name in (part.name for part in fields(item)):
        value = getattr(item, name)
        if isinstance(value, Item):
            changed[name] = _take(value, found)
        elif name == "features" and isinstance(value, tuple):
            changed[name] = tuple(_by_id(part, found) for part in value)
    kept = replace(item, **changed) if changed else item  # type: ignore[arg-type]
    where = next(n for n, kind in KINDS.items() if type(kept) is kind)
    # The same thing may be held by several items; a *different* one of the same
    # name stays, to be complained of.
    if not any(kept is other or _same(kept, other) for other in found[where]):
        found[where].append(kept)
    return kept.id


def _by_id(identity: Identity, found: dict[str, list[Item]]) -> Identity:
    if isinstance(identity.feature, Feature):
        return Identity(_take(identity.feature, found), identity.weight)
    return identity


def _same(one: Item, other: Item) -> bool:
    """Say whether two items are the same; traced lines hold arrays, and never are."""
    if isinstance(one, SkylinePiece | RidgeLine):
        return False
    return one == other


def _found(items: tuple[_I, ...], name: str) -> _I:
    for item in items:
        if item.id == name:
            return item
    raise EvidenceError(f"There is no {name!r} in the evidence.", "Check the name.")
