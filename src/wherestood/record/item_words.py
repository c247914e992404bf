"""Say of one item of evidence how it agrees with the camera found."""

from __future__ import annotations

from typing import Any

from scipy.special import expit

from wherestood.evidence.items import Evidence
from wherestood.record.doubt import distance_in_words, odds_in_words

__all__ = [
    "BLUNDER",
    "agreement",
    "blunder_share",
    "item_name",
    "item_sentence",
    "off_by",
    "short_name",
    "thing_name",
    "two_digits",
    "why_not",
]

#: From here on an item is called a blunder rather than not ...
BLUNDER = 0.5
#: ... almost certainly one, or one that may be.
_CERTAIN, _POSSIBLE = 0.95, 0.2
#: What lies level, and is off up or down alone.
_WATERS = ("water level", "sea horizon")
#: Off by less than this along one axis, only the other is told [share of the whole].
_ASIDE = 0.25


def blunder_share(row: dict[str, Any]) -> float:
    """Return the probability that an item is a blunder."""
    return float(expit(row["blunder_log_odds"]))


def two_digits(value: float) -> str:
    """Return a number at two significant digits, never as a power of ten."""
    rounded = float(f"{value:.2g}")
    return f"{rounded:.0f}" if abs(rounded) >= 10 else f"{rounded:g}"


def thing_name(evidence: Evidence, name: str) -> str:
    """Return what people call a feature, or what it is, or else its id."""
    for feature in evidence.features:
        if feature.id == name:
            return feature.name or feature.what or feature.id
    return name


def short_name(row: dict[str, Any]) -> str:
    """Return an item's id, less the kind with which a made one begins."""
    return str(row["id"]).removeprefix(f"{row['kind']}: ")


def item_name(row: dict[str, Any], evidence: Evidence) -> str:
    """Return an item's kind, id and, of a mark, the feature that fits it best."""
    name = short_name(row)
    name = f"{row['kind']} {name if name == row['id'] else f'({name})'}"
    if feature := row.get("feature"):
        likeliest = "likeliest " if _has_choice(row, evidence) else ""
        name = f"{name} ({likeliest}{thing_name(evidence, feature)})"
    return name


def agreement(row: dict[str, Any]) -> str:
    """Return by how much an item is off, with its unit; empty where it has none."""
    if row["kind"] == "known size":
        if row.get("residual_m") is None:
            return ""
        return f"{two_digits(abs(row['residual_m']))} m"
    if row.get("residual_px"):
        return f"{two_digits(row['residual'])} px"
    if row.get("residual_deg") is not None:
        return f"{two_digits(abs(row['residual_deg']))}°"
    if row.get("residual_m") is not None:
        return distance_in_words(abs(row["residual_m"]))
    return ""


def off_by(row: dict[str, Any]) -> str:
    """Return the same for a table: nothing for what stands as it was seen to."""
    if row["kind"] == "order" and (row.get("residual_deg") or 0.0) >= 0.0:
        return ""
    return "" if row.get("residual_m") == 0.0 else agreement(row)


def item_sentence(row: dict[str, Any], evidence: Evidence) -> str:
    """Say in one sentence how an item agrees, and name a blunder with its odds."""
    name = item_name(row, evidence)
    name = name[0].upper() + name[1:]
    share = blunder_share(row)
    if share < _POSSIBLE:
        return f"{name} agrees{_how(row)}."
    if share >= _CERTAIN:
        doubt = "is almost certainly a blunder"
    elif share >= BLUNDER:
        doubt = "is likelier a blunder than not"
    else:
        doubt = "may be a blunder"
    return f"{name} {doubt} ({odds_in_words(share)}): {why_not(row)}."


def _has_choice(row: dict[str, Any], evidence: Evidence) -> bool:
    return any(
        mark.id == row["id"] and len(mark.identities) > 1 for mark in evidence.marks
    )


def _how(row: dict[str, Any]) -> str:
    """Say how well an item agrees that does."""
    if row.get("distance_m") is not None:
        return f": by its size it is {distance_in_words(row['distance_m'])} away"
    how = agreement(row)
    if not how:
        return ""
    if row["kind"] in ("mark", *_WATERS):
        return f": {how} from where it should show"
    if row["kind"] == "upright edge":
        return f": it leans by {how}"
    if row["kind"] == "known size":
        return f" to {how}"
    if row["kind"] == "order":
        return f": they stand {how} apart" if row["residual_deg"] > 0.0 else ""
    if row["kind"] == "statement":
        inside = row["residual_m"] == 0.0
        return ": the place lies inside" if inside else f": the place lies {how} off"
    return f" to {how}"


def why_not(row: dict[str, Any]) -> str:
    """Say how an item does not agree."""
    how = agreement(row)
    if row["kind"] == "mark":
        return f"it shows {_aside(*row['residual_px'])} where it should"
    if row["kind"] in _WATERS:
        if not row.get("residual_px"):
            return "from there no such water is to be seen that way"
        return f"it shows {_aside(*row['residual_px'])} where it should"
    if row["kind"] == "upright edge":
        side = "right" if row["residual_deg"] > 0.0 else "left"
        return f"it leans {how} to the {side}, and an upright thing does not"
    if row["kind"] == "known size":
        longer = "longer" if (row.get("residual_m") or 0.0) > 0.0 else "shorter"
        return f"it shows {how} {longer} than it is"
    if row["kind"] == "in line":
        return f"from there the two stand {how} off what was read"
    if row["kind"] == "order":
        if (row.get("residual_deg") or 0.0) < 0.0:
            return f"from there they stand the other way round, {how} apart"
        return "from there they hardly stand so"
    if row["kind"] == "known distance":
        way = "nearer" if row["residual_m"] > 0 else "farther"
        return f"it is {how} {way} than said"
    if row["kind"] == "statement":
        if row["residual_m"] == 0.0:
            return "though the place lies inside"
        return f"the place lies {how} outside what it says"
    if row["kind"] == "seen":
        return "from there it would hardly show"
    if row["kind"] == "hidden":
        return "from there it would hardly be hidden"
    return f"it is {how} off" if how else "it does not agree"


def _aside(right_px: float, below_px: float) -> str:
    """Say where a mark lies of where it should: "210 px to the right of"."""
    whole_px = max(abs(right_px), abs(below_px))
    parts = []
    if abs(right_px) > _ASIDE * whole_px:
        side = "right" if right_px > 0 else "left"
        parts.append(f"{two_digits(abs(right_px))} px to the {side} of")
    if abs(below_px) > _ASIDE * whole_px:
        way = "below" if below_px > 0 else "above"
        parts.append(f"{two_digits(abs(below_px))} px {way}")
    return " and ".join(parts)
