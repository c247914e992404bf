"""Say which event a source dates, and what that bounds.

A source dates something that happened, seldom the exposure. A newspaper is printed
after what it tells; a contract is let before anything stands; the first source to
mention a house does not say when it was built. Each event here says on which side of
the exposure its date lies, if on any, and how long before or after.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from wherestood.dating.items import Bound, Exposed, Item, Side
from wherestood.dating.months import Span, span_of
from wherestood.errors import EvidenceError

__all__ = ["EVENTS", "Event", "dated_item", "event_called"]


@dataclass(frozen=True)
class Event:
    """Be one kind of event that a source can date.

    Attributes
    ----------
    name : str
        What it is called, on screens too.
    says : {"exposed", "not before", "not after", "nothing"}
        What its date says of the exposure.
    because : str
        Why, in one clause.
    least_months, most_months : int
        How long after its date the thing came about that counts [month]; below 0
        before it. Common practice, and for a person to change.
    """

    name: str
    says: Literal["exposed", "not before", "not after", "nothing"]
    because: str
    least_months: int = 0
    most_months: int = 0


_PLATE = (
    Event("exposed", "exposed", "it is the exposure's own date"),
    Event("not before", "not before", "somebody says so"),
    Event("not after", "not after", "somebody says so"),
    Event(
        "reported", "exposed",
        "a paper tells of it soon after, so it lies up to two months before", -2, 0,
    ),
    Event("announced", "not before", "it was still to be made"),
    Event("printed", "not after", "a print is made after its negative"),
    Event("mounted", "not after", "a print is mounted after its negative was made"),
    Event("published", "not after", "what is published was made before"),
    Event("written on it", "not after", "words are written on what is there"),
    Event("exhibited", "not after", "what is shown was made before"),
    Event("registered", "not after", "a picture is registered once it is made"),
    Event("acquired", "not after", "what came to its holder was made before"),
)  # fmt: skip
_SHOWN = (
    Event("shown, built", "not before", "it stands in the picture"),
    Event(
        "shown, contract let", "not before",
        "it stands in the picture, and was finished three months to two years after "
        "its contract was let", 3, 24,
    ),
    Event(
        "shown, foundation laid", "not before",
        "it stands in the picture, and was finished two months to two years after its "
        "foundation was laid", 2, 24,
    ),
    Event("shown, moved here", "not before", "it stands where it was moved to"),
    Event(
        "shown, first mentioned", "nothing",
        "who mentions it first does not say since when it stood",
    ),
    Event(
        "shown, name first used", "nothing",
        "a name can be younger or older than what bears it",
    ),
    Event("shown, gone", "not after", "it still stands in the picture"),
    Event("shown, moved away", "not after", "it stands where it was moved from"),
    Event(
        "shown, last mentioned", "nothing",
        "who mentions it last does not say until when it stood",
    ),
)  # fmt: skip
_MISSING = (
    Event("missing, built", "not after", "it would show, and does not yet"),
    Event(
        "missing, contract let", "not after",
        "it would show, and was finished three months to two years after its contract "
        "was let", 3, 24,
    ),
    Event(
        "missing, first mentioned", "not after",
        "it would show, does not yet, and stood when it was mentioned",
    ),
    Event("missing, gone", "not before", "it would show, and does so no more"),
    Event(
        "missing, last mentioned", "not before",
        "it would show, does so no more, and still stood when it was mentioned",
    ),
)  # fmt: skip

#: All by name: of the plate, of what it shows, of what it would show and does not.
EVENTS = {event.name: event for event in (*_PLATE, *_SHOWN, *_MISSING)}


def event_called(name: str) -> Event:
    """Return an event by its name.

    Raises
    ------
    EvidenceError
        If none is called so; all names are offered.
    """
    if name not in EVENTS:
        raise EvidenceError(
            f"No event is called {name!r}.", f"Known: {'; '.join(EVENTS)}.", field="of"
        )
    return EVENTS[name]


def dated_item(
    key: str,
    event: Event,
    edtf: str,
    what: str,
    *,
    trust: float = 1.0,
    source: str = "",
    stands_with: str = "",
    derived_from: tuple[str, ...] = (),
) -> Item | None:
    """Make an item of the date of an event.

    Parameters
    ----------
    key : str
        What the item is called by.
    event : Event
        What was dated.
    edtf : str
        Its date, EDTF.
    what : str
        What was said, in words.
    trust, source, stands_with, derived_from
        As of `Item`.

    Returns
    -------
    Item or None
        None where the event's date says nothing of the exposure.

    Raises
    ------
    EvidenceError
        If the date cannot be read.
    """
    when = _shifted(span_of(edtf, f"the date of {key!r}"), event)
    if event.says == "nothing":
        return None
    if event.says == "exposed":
        return Exposed(
            key, what, when, trust=trust, source=source, stands_with=stands_with,
            derived_from=derived_from,
        )  # fmt: skip
    side: Side = event.says
    return Bound(
        key, what, side, when, trust=trust, source=source, stands_with=stands_with,
        derived_from=derived_from,
    )  # fmt: skip


def _shifted(span: Span, event: Event) -> Span:
    """Move a span by what lies between the event and what counts."""

    def later(month: int | None, by: int) -> int | None:
        return None if month is None else month + by

    return Span(
        later(span.rise_from, event.least_months),
        later(span.full_from, event.least_months),
        later(span.full_to, event.most_months),
        later(span.fall_to, event.most_months),
    )
