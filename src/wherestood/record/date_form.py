"""Give a date as a record: for programs, and for the page."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import numpy as np

from wherestood.dating.advice import Offer
from wherestood.dating.agreement import Contribution, what_conflicts
from wherestood.dating.interval import Interval
from wherestood.dating.months import year_month
from wherestood.dating.shadow import Directions
from wherestood.dating.sun_fit import SunFit
from wherestood.dating.weigh import Weighed
from wherestood.record.date_words import considered_words
from wherestood.record.plain import rounded

__all__ = ["date_form", "sun_form"]

#: What months at either end may be left out: less than one case in a thousand.
TAIL = 0.0005


def date_form(
    whole: Weighed,
    told: Sequence[Contribution],
    offers: Sequence[Offer],
    left_out: Sequence[str],
) -> dict[str, Any]:
    """Return a date as a record.

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
    held = np.cumsum(whole.probability)
    first = int(np.searchsorted(held, TAIL)) if whole.possible else 0
    after = int(np.searchsorted(held, 1.0 - TAIL)) + 1 if whole.possible else 0
    return {
        "possible": whole.possible,
        "considered": considered_words(whole),
        "nine_in_ten": _span(whole.interval(0.9)),
        "even_odds": _span(whole.interval(0.5)),
        "first_month": _month(int(whole.months[first])),
        "by_month": [round(float(each), 6) for each in whole.probability[first:after]],
        "contradict": [group.name for group in what_conflicts(whole)],
        "contributions": [_contribution(each) for each in told],
        "advice": [
            {
                "what": offer.what,
                "months_now": offer.months_now,
                "months_expected": round(offer.months_expected, 1),
            }
            for offer in offers
        ],
        "left_out": [*left_out],
    }


def _contribution(each: Contribution) -> dict[str, Any]:
    return {
        "name": each.group.name,
        "what": [item.what for item in each.group.items],
        "source": [item.source for item in each.group.items],
        "trust": each.group.trust,
        "right": None if each.right is None else round(each.right, 4),
        "disagrees": each.disagrees,
        "at_odds_with": list(each.at_odds_with),
        "without": _span(each.without),
        "moves_months": each.moves_months,
    }


def _span(interval: Interval | None) -> dict[str, Any] | None:
    if interval is None:
        return None
    return {
        "edtf": f"{_month(interval.first)}/{_month(interval.last)}",
        "words": interval.words,
        "probability": round(interval.probability, 4),
    }


def _month(number: int) -> str:
    year, month = year_month(number)
    return f"{year:04d}-{month:02d}"


def sun_form(told: Directions | None, fit: SunFit) -> dict[str, Any]:
    """Return what shadows tell as a record.

    Parameters
    ----------
    told : Directions or None
        The sun's direction by each shadow.
    fit : SunFit
        Days and hours that fit.
    """
    hour = None
    if fit.possible:
        mean, sd = fit.hour_min
        low, high = fit.hours(0.9)
        hour = {
            "local_mean_min": round(mean, 1),
            "sd_min": round(sd, 1),
            "nine_in_ten_min": [low, high],
            "spans": [
                {"from_min": first, "to_min": last, "probability": round(share, 4)}
                for first, last, share in fit.spans(0.9)
            ],
        }
    return {
        "shadows": [] if told is None else _directions(told),
        "misfit": rounded(fit.best_misfit, 2),
        "hour": hour,
        "windows": [
            {"day_of_year": round(day, 1), "sd_days": round(sd, 1),
             "probability": round(share, 4)}
            for day, sd, share in fit.windows()
        ],
        "year": fit.year,
    }  # fmt: skip


def _directions(told: Directions) -> list[dict[str, Any]]:
    count = len(told.bearing_rad)
    sds = np.degrees(np.sqrt(np.diag(told.covariance)))
    level = np.maximum(told.level, 1e-3)
    return [
        {
            "bearing_deg": rounded(math.degrees(told.bearing_rad[index]), 2),
            "bearing_sd_deg": rounded(sds[index] / level[index], 2),
            "elevation_deg": rounded(math.degrees(told.elevation_rad[index]), 2),
            "elevation_sd_deg": (
                None
                if math.isnan(told.elevation_rad[index])
                else rounded(sds[count + index], 2)
            ),
        }
        for index in range(count)
    ]
