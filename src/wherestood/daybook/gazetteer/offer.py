"""Offer only the features that a plate's date allows."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Literal, Protocol

from sqlalchemy import select
from sqlalchemy.orm import Session

from wherestood.dating.events import EVENTS
from wherestood.dating.written import YEAR_UNTOLD
from wherestood.daybook.tables import Dating, Feature, FeatureName, Plate
from wherestood.evidence.years import years_of

__all__ = [
    "Offer",
    "Standing",
    "offered_features",
    "span_of_dates",
    "standing",
    "years_of_plate",
]

Standing = Literal["stood", "may have stood", "did not stand", "not known"]
_WORDS = {
    "stood": "stood all that time",
    "may have stood": "may have stood: its dates and the plate's overlap in part",
    "did not stand": "did not stand then",
    "not known": "nothing says when it stood",
}


class Dated(Protocol):
    """Be a date as written, and what it is of."""

    @property
    def edtf(self) -> str | None: ...
    @property
    def of(self) -> str | None: ...


@dataclass(frozen=True)
class Offer:
    """Hold a feature that may show on a plate.

    Attributes
    ----------
    key : str
        The feature's.
    names : tuple of str
        Every name, as spelt.
    what : str or None
        What it is.
    standing : Standing
        Whether it stood when the plate was exposed.
    from_edtf, to_edtf : str or None
        When it came to stand, and when it went, as written.
    """

    key: str
    names: tuple[str, ...]
    what: str | None
    standing: Standing
    from_edtf: str | None = None
    to_edtf: str | None = None

    @property
    def sentence(self) -> str:
        """Return why it is offered, in words."""
        if self.standing == "not known" and (self.from_edtf or self.to_edtf):
            since = f"from {self.from_edtf}" if self.from_edtf else ""
            until = f"to {self.to_edtf}" if self.to_edtf else ""
            return f"stood {' '.join(part for part in (since, until) if part)}"
        return _WORDS[self.standing]


def offered_features(
    session: Session, years: tuple[float, float] | None, *, all_of_them: bool = False
) -> Iterator[Offer]:
    """Return features that stood, or may have stood, in some years.

    Parameters
    ----------
    session : Session
        Of the daybook.
    years : (float, float) or None
        First and last year in which the plate may have been exposed; None where
        nothing is known, and then all are offered.
    all_of_them : bool
        Whether those that did not stand come too.
    """
    names: dict[str, list[str]] = {}
    wanted = select(FeatureName.feature_id, FeatureName.name).where(
        FeatureName.removed.is_(False)
    )
    for feature_id, name in session.execute(wanted.order_by(FeatureName.key)):
        names.setdefault(feature_id, []).append(name)
    features = select(Feature).where(Feature.removed.is_(False)).order_by(Feature.key)
    for feature in session.scalars(features):
        said = standing(feature.existed_from_edtf, feature.existed_to_edtf, years)
        if said != "did not stand" or all_of_them:
            called = tuple(names.get(feature.id, ()))
            yield Offer(
                feature.key,
                called,
                feature.what,
                said,
                feature.existed_from_edtf,
                feature.existed_to_edtf,
            )


def standing(
    existed_from_edtf: str | None,
    existed_to_edtf: str | None,
    years: tuple[float, float] | None,
) -> Standing:
    """Say whether something stood in some years.

    Both ends of its own dates may be doubtful: it *stood* if it did by any reading of
    them and of the plate's, and *did not stand* if it did by none. In the very year
    in which it was built or went it may have stood.
    """
    begun, gone = years_of(existed_from_edtf), years_of(existed_to_edtf)
    if years is None or (begun is None and gone is None):
        return "not known"
    first, last = years
    begun = begun or (-float("inf"), -float("inf"))
    gone = gone or (float("inf"), float("inf"))
    if last < begun[0] or first > gone[1]:
        return "did not stand"
    if first > begun[1] and last < gone[0]:
        return "stood"
    return "may have stood"


def years_of_plate(session: Session, plate: Plate) -> tuple[float, float] | None:
    """Return the first and last year in which a plate may have been exposed.

    Dates of exposure and bounds are taken together; where they contradict one
    another, the span over all of them counts, and nothing is left out silently.
    """
    wanted = select(Dating).where(
        Dating.plate_id == plate.id, Dating.removed.is_(False)
    )
    return span_of_dates(session.scalars(wanted))


def span_of_dates(dates: Iterable[Dated]) -> tuple[float, float] | None:
    """Return the first and last year that a plate's dates leave, as `years_of_plate`.

    Parameters
    ----------
    dates : iterable of Dating, or of rows with ``edtf`` and ``of``
        All that one plate has.
    """
    first, last = [], []
    exposed = []
    for dating in dates:
        read = years_of(dating.edtf)
        if read is None or dating.edtf == YEAR_UNTOLD:
            continue
        event = EVENTS.get(dating.of or "exposed")
        if event is None or event.says == "exposed":  # or what was in use for a span
            early = 0.0 if event is None else event.least_months / 12.0
            exposed.append((read[0] + early, read[1]))
        elif event.says == "not before":
            first.append(read[0])
        elif event.says == "not after":
            # A thing dated by its contract was finished some time later.
            last.append(read[1] + event.most_months / 12.0)
    low = max([*first, *(span[0] for span in exposed)], default=-float("inf"))
    high = min([*last, *(span[1] for span in exposed)], default=float("inf"))
    if low == -float("inf") and high == float("inf"):
        return None
    if low > high:
        every = [*first, *last, *(year for span in exposed for year in span)]
        return min(every), max(every)
    return low, high
