"""Check the probability over months by hand, and on invented evidence."""

from __future__ import annotations

import numpy as np
import pytest

from wherestood.dating.agreement import contributions, what_conflicts
from wherestood.dating.events import EVENTS, dated_item
from wherestood.dating.items import Bound, Exposed, InUse, Item, Season
from wherestood.dating.months import Span, month_of, span_of
from wherestood.dating.weigh import Weighed, weigh
from wherestood.errors import EvidenceError

FIRST, LAST = month_of(1870, 1), month_of(1879, 12)
ROUNDING = 1e-12


def by_hand() -> list[Item]:
    """Return the worked example of ``docs/dating.md``; people and town are invented."""
    items = [
        dated_item("hall", EVENTS["shown, built"], "1873", "the hall was built"),
        dated_item("paper", EVENTS["published"], "1877-06", "an engraving of it"),
        dated_item("caption", EVENTS["exposed"], "1875", "on the mount", trust=0.8),
    ]
    return [item for item in items if item is not None]


def share_of_year(weighed: Weighed, year: int) -> float:
    of_it = weighed.months // 12 == year
    return float(weighed.probability[of_it].sum())


def test_the_worked_example_agrees_with_the_sums_done_by_hand() -> None:
    # Months of 1873 weigh 1/12, 2/12, ... 12/12, together 6 1/2; those of 1874 to 1876
    # 1 each; those to June 1877 too: 48 1/2. The caption makes a month of 1875
    # (0.8 / 12) / (0.2 / 108) = 36 times as probable: 12 * 36 + 36.5 = 468.5.
    weighed = weigh(by_hand(), FIRST, LAST)
    assert share_of_year(weighed, 1875) == pytest.approx(432 / 468.5, abs=ROUNDING)
    assert share_of_year(weighed, 1873) == pytest.approx(6.5 / 468.5, abs=ROUNDING)
    assert share_of_year(weighed, 1877) == pytest.approx(6 / 468.5, abs=ROUNDING)
    assert share_of_year(weighed, 1872) == share_of_year(weighed, 1878) == 0.0
    nine_tenths, half = weighed.interval(0.9), weighed.interval(0.5)
    assert nine_tenths is not None
    assert half is not None
    assert nine_tenths.words == "January 1875 to December 1875"
    assert half.words == "January 1875 to July 1875"
    assert half.probability == pytest.approx(252 / 468.5, abs=ROUNDING)


def test_what_the_caption_contributes_agrees_with_the_sums_done_by_hand() -> None:
    items = by_hand()
    told = contributions(items, weigh(items, FIRST, LAST))
    hall, paper, caption = told
    # Without it 43.65 of 48.5 are wanted: 42 lie in 1874 to June 1877, December and
    # November 1873 add 12/12 and 11/12.
    assert caption.without is not None
    assert caption.without.words == "November 1873 to June 1877"
    assert caption.without.probability == pytest.approx(
        (42 + 23 / 12) / 48.5, abs=ROUNDING
    )
    # Right 0.8 / 48.5; wrong 0.2 (36.5 / 48.5) / 108.
    assert caption.right == pytest.approx(0.8 / (0.8 + 0.2 * 36.5 / 108), abs=ROUNDING)
    assert hall.right == paper.right == 1.0
    assert not any(each.at_odds_with or each.disagrees for each in told)


def invented(random: np.random.Generator) -> tuple[int, list[Item]]:
    """Invent a truth and what is said of it, as often wrong as it is trusted to be."""
    first, last = month_of(1860), month_of(1899, 12)
    truth = int(random.integers(first, last + 1))
    items: list[Item] = []
    for number in range(int(random.integers(1, 4))):
        trust = float(random.uniform(0.8, 1.0))
        right = random.random() < trust
        if random.random() < 0.3:
            items.append(a_date(f"s{number}", truth, trust, right, random))
        else:
            items.append(a_bound(f"b{number}", truth, trust, right, random))
    items.append(a_process(truth, random))
    if random.random() < 0.5:
        items.append(a_season(truth, random))
    return truth, items


def a_bound(
    key: str, truth: int, trust: float, right: bool, random: np.random.Generator
) -> Item:
    began = int(random.integers(month_of(1860), month_of(1900)))
    width = int(random.integers(1, 37))
    begin = began - int(random.integers(0, width))
    if (truth >= began) == right:
        span = Span(begin, begin, begin + width - 1, begin + width - 1)
        return Bound(key, "it stands", "not before", span, trust=trust)
    # What is not at or after it lies at most one month before.
    span = Span(begin - 1, begin - 1, begin + width - 2, begin + width - 2)
    return Bound(key, "it does not stand yet", "not after", span, trust=trust)


def a_date(
    key: str, truth: int, trust: float, right: bool, random: np.random.Generator
) -> Item:
    block = (truth - month_of(1860)) // 60
    if not right:
        block = int(random.choice([other for other in range(8) if other != block]))
    begin = month_of(1860) + 60 * block
    return Exposed(
        key, "somebody says", Span(begin, begin, begin + 59, begin + 59), trust=trust
    )


def a_process(truth: int, random: np.random.Generator) -> Item:
    trust = 0.95
    last, first = month_of(1873), month_of(1887)  # half of the months, softly
    old = Span(None, None, last, first)
    share = float(old.agrees(np.array([truth]))[0])
    is_old = random.random() < share
    if (random.random() < trust) == is_old:
        return InUse("process", "the old process", old, trust=trust)
    # One minus the fall of the old: it rises from the month after the old one's fall.
    new = Span(last + 1, first + 1, None, None)
    return InUse("process", "the new process", new, trust=trust)


def a_season(truth: int, random: np.random.Generator) -> Item:
    shares = np.array([0, 0, 0, 0.3, 0.9, 1, 1, 1, 0.9, 0.5, 0.1, 0])
    leaf = random.random() < shares[truth % 12]
    if (random.random() < 0.9) != leaf:
        shares = 1.0 - shares
    return Season("season", "leaf", tuple(shares), trust=0.9)


def test_new_process_is_the_old_one_s_complement() -> None:
    months = np.arange(month_of(1870), month_of(1899))
    old = Span(None, None, month_of(1878), month_of(1892))
    new = Span(month_of(1878) + 1, month_of(1892) + 1, None, None)
    assert old.agrees(months) + new.agrees(months) == pytest.approx(1.0)


@pytest.mark.parametrize(("share", "band"), [(0.5, (347, 453)), (0.9, (692, 747))])
def test_intervals_hold_the_truth_as_often_as_they_promise(
    share: float, band: tuple[int, int]
) -> None:
    """Of 800 invented cases; the bands hold 99.9% and 99.5% of the binomial."""
    random = np.random.default_rng(871)
    held, promised = 0, 0.0
    for _ in range(800):
        truth, items = invented(random)
        interval = weigh(items, month_of(1860), month_of(1899, 12)).interval(share)
        assert interval is not None
        held += interval.first <= truth <= interval.last
        promised += interval.probability
    # Whole months make an interval hold a little more than it was asked for.
    assert 0.0 <= promised / 800 - share < 0.02
    assert band[0] <= held <= band[1]


def test_ranks_of_the_truth_are_even() -> None:
    """The probability before the truth is as often in each tenth as in others."""
    random = np.random.default_rng(872)
    counts = np.zeros(10)
    for _ in range(800):
        truth, items = invented(random)
        weighed = weigh(items, month_of(1860), month_of(1899, 12))
        at = truth - month_of(1860)
        before = weighed.probability[:at].sum()
        rank = before + random.random() * weighed.probability[at]
        counts[min(9, int(10 * rank))] += 1
    # Chi-squared of 9 degrees of freedom lies below 27.9 in 999 of 1000 cases.
    assert ((counts - 80) ** 2 / 80).sum() < 27.9


def test_nothing_known_leaves_every_month_alike() -> None:
    weighed = weigh([], FIRST, LAST)
    assert weighed.probability == pytest.approx(1 / 120)


def test_a_source_right_half_the_time_says_nothing_of_a_bound() -> None:
    bound = Bound("b", "hearsay", "not before", span_of("1875"), trust=0.5)
    assert weigh([bound], FIRST, LAST).probability == pytest.approx(1 / 120)


def test_what_repeats_another_counts_once() -> None:
    caption = Exposed("caption", "1875", span_of("1875"), trust=0.8)
    copied = Exposed(
        "copied", "1875 again", span_of("1875"), trust=0.9, derived_from=("caption",)
    )
    both = weigh([copied, caption], FIRST, LAST)
    assert both.repeats == ("copied",)
    assert np.array_equal(both.probability, weigh([caption], FIRST, LAST).probability)


def test_what_stands_together_falls_together() -> None:
    # One letter, trusted 0.7, gives two bounds: both right or both wrong.
    early = Bound(
        "a", "letter", "not before", span_of("1874"), trust=0.7, stands_with="letter"
    )
    late = Bound(
        "b", "letter", "not after", span_of("1875"), trust=0.7, stands_with="letter"
    )
    weighed = weigh([early, late], FIRST, LAST)
    # Never one right and the other wrong: nothing before 1874 nor after 1875.
    assert share_of_year(weighed, 1872) == share_of_year(weighed, 1878) == 0.0


def test_certain_items_that_contradict_are_named_and_nothing_is_possible() -> None:
    items = [
        Bound("school", "the school stands", "not before", span_of("1876-04")),
        Bound("mill", "the mill burnt", "not after", span_of("1874-09")),
        Bound("bridge", "the bridge stands", "not before", span_of("1871")),
    ]
    weighed = weigh(items, FIRST, LAST)
    assert not weighed.possible
    assert weighed.interval(0.9) is None
    assert [group.name for group in what_conflicts(weighed)] == ["school", "mill"]


def test_a_doubtful_item_that_disagrees_is_told_with_what_it_contradicts() -> None:
    items = [
        Bound("school", "the school stands", "not before", span_of("1876-04")),
        Bound("bridge", "the bridge stands", "not before", span_of("1877")),
        Exposed("caption", "written in pencil", span_of("1871"), trust=0.7),
    ]
    weighed = weigh(items, FIRST, LAST)
    *_, caption = contributions(items, weighed)
    assert caption.right == 0.0
    assert caption.disagrees
    assert set(caption.at_odds_with) == {"school", "bridge"}


def test_an_about_date_falls_off_over_five_years_and_a_month_over_half_a_year() -> None:
    year, month = span_of("1875~"), span_of("1875-06~")
    assert (year.rise_from, year.full_from) == (month_of(1870), month_of(1875))
    assert (month.full_to, month.fall_to) == (month_of(1875, 6), month_of(1875, 12))


def test_an_event_about_a_year_falls_off_to_either_side() -> None:
    """By hand: of "about 1875" 60 months rise, 12 are full, 60 fall, by 61sts.

    They weigh 30, 12 and 30 in all, 72; before 1875 lie 30 of them.
    """
    since = Bound("b", "built about then", "not before", span_of("1875~"))
    until = Bound("b", "gone about then", "not after", span_of("1875~"))
    months = np.array([month_of(1869, 12), month_of(1874, 12), month_of(1875, 12),
                       month_of(1880, 12)])  # fmt: skip
    assert since.agrees(months) == pytest.approx([0, 30 / 72, 42 / 72, 1])
    # Of its own month a thing may still show, and may already.
    assert until.agrees(months + 1) == pytest.approx([1, 42 / 72, 30 / 72, 0])


def test_trust_outside_its_limits_is_refused() -> None:
    with pytest.raises(EvidenceError, match=r"between 0 and 1"):
        Exposed("x", "x", span_of("1875"), trust=1.2)


def test_a_range_that_ends_before_it_begins_is_refused() -> None:
    with pytest.raises(EvidenceError, match="lies after the last"):
        weigh([], LAST, FIRST)


def test_two_items_of_one_name_are_refused() -> None:
    item = Exposed("x", "x", span_of("1875"))
    with pytest.raises(EvidenceError, match="'x'"):
        weigh([item, item], FIRST, LAST)
