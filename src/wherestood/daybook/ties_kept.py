"""Keep what is seen on two plates of a panorama as items, and read it back."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from wherestood.daybook.tables import Evidence, Plate
from wherestood.errors import InputError
from wherestood.evidence.items.tie import TieMark

__all__ = [
    "BY_MATCHING",
    "TiesTold",
    "keep_matches",
    "plates_of_panorama",
    "refuse_unread_tie",
    "tell_ties",
    "ties_kept",
]

TIE = "tie"
BY_MATCHING = "matched by machine"
_SD_PX = 2.0


@dataclass(frozen=True)
class TiesTold:
    """Hold the tie marks of a panorama as a search takes them.

    Attributes
    ----------
    ties : tuple of TieMark
        Named by the plates' keys.
    items : tuple of Evidence
        The items they were made of.
    left_out : tuple of str
        Why some count nothing, in sentences.
    """

    ties: tuple[TieMark, ...]
    items: tuple[Evidence, ...]
    left_out: tuple[str, ...]


def plates_of_panorama(session: Session, plate: Plate) -> list[Plate]:
    """Return the plates of a plate's panorama, itself among them, by key.

    None where the plate belongs to no panorama.
    """
    if not plate.panorama:
        return []
    wanted = select(Plate).where(
        Plate.panorama == plate.panorama,
        Plate.removed.is_(False),
        Plate.withdrawn.is_(None),
    )
    return list(session.scalars(wanted.order_by(Plate.key)))


def ties_kept(
    session: Session, plates: Sequence[Plate], *, set_aside: bool = False
) -> list[Evidence]:
    """Return the tie marks that join two of some plates, by plate and key.

    Parameters
    ----------
    session : Session
        Of the daybook.
    plates : sequence of Plate
    set_aside : bool
        Whether those that were set aside are wanted too.
    """
    ids = {plate.id for plate in plates}
    wanted = select(Evidence).where(
        Evidence.kind == TIE,
        Evidence.plate_id.in_(ids),
        Evidence.withdrawn.is_(None),
    )
    if not set_aside:
        wanted = wanted.where(Evidence.removed.is_(False))
    order = {plate.id: number for number, plate in enumerate(plates)}
    found = [
        one
        for one in session.scalars(wanted)
        if (one.content or {}).get("beside") in ids - {one.plate_id}
    ]
    return sorted(found, key=lambda one: (order[one.plate_id], _number(one.key)))


def tell_ties(
    session: Session, plates: Sequence[Plate], scan_ids: Sequence[str]
) -> TiesTold:
    """Return the tie marks of some plates as they stand now.

    Parameters
    ----------
    session : Session
        Of the daybook.
    plates : sequence of Plate
    scan_ids : sequence of str
        The scan of each whose pixels are meant.
    """
    by_id = {plate.id: plate for plate in plates}
    meant = dict(zip(by_id, scan_ids, strict=True))
    ties: list[TieMark] = []
    items: list[Evidence] = []
    left_out: list[str] = []
    for item in ties_kept(session, plates):
        content = item.content or {}
        first, second = by_id[item.plate_id], by_id[content["beside"]]
        name = f"{first.key}/{item.key}"
        on = (item.scan_id, meant[first.id]), (content.get("scan"), meant[second.id])
        if any(scan not in (None, other) for scan, other in on):
            left_out.append(f"The tie mark {name} is on another copy: counts nothing.")
            continue
        more: dict[str, Any] = {}
        if item.trust is not None:
            more["trust"] = item.trust
        if content.get("distance_m") is not None:
            more["distance_m"] = float(content["distance_m"])
        ties.append(
            TieMark(
                id=name,
                plates=(first.key, second.key),
                first_px=_point(content["first_px"]),
                second_px=_point(content["second_px"]),
                sd_px=float(content.get("sd_px") or _SD_PX),
                source=item.source_words or "",
                **more,
            )
        )
        items.append(item)
    return TiesTold(tuple(ties), tuple(items), tuple(left_out))


def keep_matches(
    session: Session,
    plates: Sequence[Plate],
    scan_ids: Sequence[str],
    found: Sequence[TieMark],
) -> list[Evidence]:
    """Keep tie marks that the machine found, in the place of those it had found.

    What a person set, and what a person set aside, stays as it is.

    Parameters
    ----------
    session : Session
        Of `Daybook.writing`.
    plates, scan_ids
        As of `tell_ties`.
    found : sequence of TieMark
        Named by the plates' keys.
    """
    by_key = {
        plate.key: (plate, scan) for plate, scan in zip(plates, scan_ids, strict=True)
    }
    for one in ties_kept(session, plates):
        if one.source_words == BY_MATCHING:
            one.removed = True
    kept = []
    for tie in found:
        (first, scan), (second, beside) = (by_key[name] for name in tie.plates)
        kept.append(
            Evidence(
                plate_id=first.id,
                scan_id=scan,
                kind=TIE,
                content={
                    "beside": second.id,
                    "scan": beside,
                    "first_px": [round(v, 2) for v in tie.first_px],
                    "second_px": [round(v, 2) for v in tie.second_px],
                    "sd_px": round(tie.sd_px, 2),
                },
                trust=tie.trust,
                source_words=BY_MATCHING,
            )
        )
    session.add_all(kept)
    session.flush()
    return kept


def refuse_unread_tie(item: Evidence, name: str) -> None:
    """Refuse a tie mark that does not say where the thing is on both plates.

    Raises
    ------
    InputError
        Naming what is missing.
    """
    content = item.content or {}
    beside = content.get("beside")
    if not isinstance(beside, str) or not beside or beside == item.plate_id:
        raise InputError(
            f"The {name} does not say on which other plate the thing is seen.",
            "Give the other plate's id as 'beside'.",
        )
    for field in ("first_px", "second_px"):
        if not _is_point(content.get(field)):
            raise InputError(
                f"The {name} does not say where the thing is: its {field} is no place.",
                "Give x and y in the scan's own pixels, on both plates.",
            )
    for field in ("sd_px", "distance_m"):
        value = content.get(field)
        if value is not None and not (_is_number(value) and value > 0.0):
            raise InputError(
                f"The {name} has {value!r} as its {field}.", "Give a number above zero."
            )


def _is_point(value: Any) -> bool:
    return isinstance(value, list | tuple) and len(value) == 2 and all(
        _is_number(one) for one in value
    )  # fmt: skip


def _is_number(value: Any) -> bool:
    known = isinstance(value, int | float) and not isinstance(value, bool)
    return known and math.isfinite(value)


def _point(value: Sequence[float]) -> tuple[float, float]:
    return float(value[0]), float(value[1])


def _number(key: str) -> tuple[str, int, str]:
    """Order ``tie 2`` before ``tie 10``."""
    stem, _, last = key.rpartition(" ")
    return (stem, int(last), key) if last.isdigit() else (key, 0, key)
