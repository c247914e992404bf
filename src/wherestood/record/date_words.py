"""Say in plain words when a plate was exposed, and by what."""

from __future__ import annotations

from collections.abc import Sequence

from wherestood.dating.advice import Offer
from wherestood.dating.agreement import Contribution, what_conflicts
from wherestood.dating.months import month_words
from wherestood.dating.weigh import Weighed
from wherestood.record.doubt import odds_in_words
from wherestood.record.page import Section

__all__ = ["NINE_IN_TEN", "considered_words", "date_words"]

#: Begins the line that tells when a plate was exposed.
NINE_IN_TEN = "Nine in ten:"
#: From here on years are told, not months [month].
_IN_YEARS = 36
#: Shorter moves are no moves [month].
LEAST_MOVE = 1.0


def date_words(
    whole: Weighed,
    told: Sequence[Contribution],
    offers: Sequence[Offer],
    left_out: Sequence[str] = (),
) -> list[Section]:
    """Return the page of words of a date.

    Parameters
    ----------
    whole : Weighed
        The probability of every month.
    told : sequence of Contribution
        What each item does to it.
    offers : sequence of Offer
        What would narrow it.
    left_out : sequence of str
        What counted nothing, and why.
    """
    sections = [Section("When", tuple(_when(whole)))]
    if told:
        sections.append(_contributions(told, whole))
    disagree = [each for each in told if each.disagrees]
    if disagree and whole.possible:
        sections.append(Section("What disagrees", tuple(map(_disagrees, disagree))))
    if offers:
        sections.append(Section("What to look for next", tuple(map(_offer, offers))))
    out = [*left_out]
    out += [f"{key} counts nothing: it repeats another." for key in whole.repeats]
    if out:
        sections.append(Section("What does not count", tuple(out)))
    return sections


def _when(whole: Weighed) -> list[str]:
    first, last = month_words(int(whole.months[0])), month_words(int(whole.months[-1]))
    if not whole.groups:
        return [
            f"Nothing dates the plate: every month from {first} to {last} is alike."
        ]
    if not whole.possible:
        groups = what_conflicts(whole)
        named = "; ".join(group.items[0].what for group in groups)
        return [
            "No month fits all that is held for certain. These cannot be so together: "
            f"{named}."
            if groups
            else "No month fits all that is held for certain.",
            "Doubt one of them (a trust below 1), or look whether it dates what it is "
            "taken to date.",
        ]
    nine, half = whole.interval(0.9), whole.interval(0.5)
    assert nine is not None
    assert half is not None
    return [
        f"{NINE_IN_TEN} {nine.words} ({_long(nine.months)}).",
        f"Even odds: {half.words}.",
        considered_words(whole),
    ]


def considered_words(whole: Weighed) -> str:
    """Say which months were considered, and what was taken where nobody said."""
    first, last = month_words(int(whole.months[0])), month_words(int(whole.months[-1]))
    return (
        f"Considered was every month from {first} to {last}, all alike before anything "
        "counted. Where nobody said how sure an item is, it was taken to be right 9 "
        "times in 10, a questioned date 3 times in 4."
    )


def _long(months: float) -> str:
    """Return a length of time in months, a long one in years."""
    if months >= _IN_YEARS:
        return f"{months / 12:.0f} years"
    return "1 month" if round(months) == 1 else f"{months:.0f} months"


def _contributions(told: Sequence[Contribution], whole: Weighed) -> Section:
    rows = [("what", "says", "right", "without it, nine in ten")]
    for each in told:
        says = "; ".join(item.what for item in each.group.items)
        right = "" if each.right is None else odds_in_words(each.right)
        without = "no month fits" if each.without is None else each.without.words
        now = whole.interval(0.9)
        if now is not None and each.without is not None and now.words == without:
            without = "the same"
        rows.append((each.group.name, says, right, without))
    return Section("What each thing contributes", (), tuple(rows))


def _disagrees(each: Contribution) -> str:
    what = "; ".join(item.what for item in each.group.items)
    right = odds_in_words(each.right or 0.0)
    if not each.at_odds_with:
        return (
            f"{each.group.name} ({what}): {right} that it is right. Nothing that is "
            "kept contradicts it, but it leaves few of the months considered: are all "
            "of those seriously possible?"
        )
    return (
        f"{each.group.name} ({what}) disagrees with the rest: {right} that it is right."
        f" It cannot be so together with {', '.join(each.at_odds_with)}."
    )


def _offer(offer: Offer) -> str:
    what = offer.what[:1].upper() + offer.what[1:]
    return (
        f"{what}: {_long(offer.months_now)} would become some "
        f"{_long(offer.months_expected)}."
    )
