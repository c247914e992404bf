"""Tell who holds rights in what is handed out, and which terms would be broken."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from sqlalchemy import select

from wherestood.daybook.journal import DaybookSession
from wherestood.daybook.public.naming import Naming
from wherestood.daybook.tables import Feature, Plan, Plate, Right, TerrainLayer
from wherestood.record.export.handed import UNKNOWN

__all__ = [
    "BrokenTerm",
    "broken_terms",
    "common_credits",
    "credits_naming_none",
    "credits_of",
    "plans_kept_back",
    "rights_by_plate",
]

_PICTURES = ("image", "scan")


@dataclass(frozen=True)
class BrokenTerm:
    """Say which recorded term a hand-over to the public would break.

    Attributes
    ----------
    name : str
        The plate's key, or what else it is.
    about_id : str
        Its id.
    what : str
        ``picture``, ``words``, ``plan``, ``feature`` or ``hill-shade``: what would
        have to stay out.
    term : str
        What is recorded.
    """

    name: str
    about_id: str
    what: str
    term: str

    def sentence(self) -> str:
        """Return it in one sentence."""
        return f"{self.name}: {self.term}."


def broken_terms(
    session: DaybookSession, plates: Sequence[Plate], *, pictures: bool = True
) -> tuple[BrokenTerm, ...]:
    """Return the terms that publishing some plates would break."""
    called = {plate.id: plate.key for plate in plates}
    found = []
    for right in _live(session):
        if right.may_be_published is not False:
            continue
        said = f"its {right.what or 'rights'} may not be published"
        if right.terms:
            said += f" ({right.terms})"
        if right.plate_id in called:
            name = called[right.plate_id]
            # One that does not say what it is in covers all of its item.
            whole = right.what is None and right.about_table in ("plates", "scans")
            if (right.what in _PICTURES or whole) and pictures:
                found.append(BrokenTerm(name, right.plate_id, "picture", said))
            if right.what == "words" or (whole and right.about_table == "plates"):
                found.append(BrokenTerm(name, right.plate_id, "words", said))
        elif right.about_table == "plans":
            plan = session.get(Plan, right.about_id)
            name = (plan.title or plan.key) if plan is not None else "a plan"
            found.append(BrokenTerm(name, right.about_id, "plan", said))
        elif right.about_table == "terrain_layers":
            layer = session.get(TerrainLayer, right.about_id)
            name = (layer.title or layer.key) if layer is not None else "elevation"
            found.append(BrokenTerm(name, right.about_id, "hill-shade", said))
        elif right.about_table == "features":
            feature = session.get(Feature, right.about_id)
            name = feature.key if feature is not None else "a feature"
            found.append(BrokenTerm(name, right.about_id, "feature", said))
    return tuple(dict.fromkeys(found))


def plans_kept_back(broken: Iterable[BrokenTerm]) -> set[str]:
    """Return the ids of plans and features of which nothing goes out."""
    return {one.about_id for one in broken if one.what in ("plan", "feature")}


def rights_by_plate(session: DaybookSession) -> dict[str, list[Right]]:
    """Return the rights that stand in each plate, by its id."""
    found: dict[str, list[Right]] = {}
    for right in _live(session):
        if right.plate_id is not None:
            found.setdefault(right.plate_id, []).append(right)
    return found


def credits_of(rights: Sequence[Right]) -> tuple[str, ...]:
    """Return credit lines of a plate, a line for each thing that rights are in.

    What nobody recorded reads UNKNOWN.
    """
    lines = [_line(one.what or "rights", one) for one in rights]
    if not any(one.what == "image" for one in rights):
        lines.insert(0, f"Image: {UNKNOWN}, licence {UNKNOWN}.")
    return tuple(dict.fromkeys(lines))


def credits_naming_none(credits: Iterable[str], naming: Naming) -> tuple[str, ...]:
    """Return credit lines with those withheld that name a place not told."""
    return tuple(
        f"{line.partition(':')[0]}: withheld, as it names the place."
        if naming.found_in(line)
        else line
        for line in credits
    )


def common_credits(
    session: DaybookSession, *, any_told: bool, any_exact: bool
) -> tuple[str, ...]:
    """Return credit lines of elevation and plans; none where no place is told.

    Where only squares are told a model goes by its credit line, and not by its title:
    that may tell the valley more closely.
    """
    if not any_told:
        return ()
    lines = []
    layers = select(TerrainLayer).where(
        TerrainLayer.removed.is_(False), TerrainLayer.withdrawn.is_(None)
    )
    for layer in session.scalars(layers.order_by(TerrainLayer.key)):
        credit = layer.credit or (layer.title if any_exact else None) or UNKNOWN
        lines.append(f"Elevation: {credit}, licence {layer.licence or UNKNOWN}.")
    for right in _live(session) if any_exact else ():
        if right.plate_id is None and right.about_table in ("plans", "terrain_layers"):
            lines.append(_line(right.what or "rights", right))
    return tuple(dict.fromkeys(lines))


def _line(what: str, right: Right) -> str:
    credit = right.credit or right.holder or UNKNOWN
    said = f"{what[0].upper()}{what[1:]}: {credit}"
    if right.credit and right.holder and right.holder not in right.credit:
        said += f", held by {right.holder}"
    return f"{said}, licence {right.licence or UNKNOWN}."


def _live(session: DaybookSession) -> list[Right]:
    chosen = select(Right).where(Right.removed.is_(False), Right.withdrawn.is_(None))
    return list(session.scalars(chosen.order_by(Right.key)))
