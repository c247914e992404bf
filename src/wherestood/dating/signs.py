"""Name the signs of the season that a picture shows."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cache
from importlib import resources

from wherestood.dating.items import Exposed, Season
from wherestood.errors import EvidenceError
from wherestood.evidence.edtf import read_edtf

__all__ = ["Sign", "in_season", "known_signs", "read_signs", "season_item"]

#: Within these latitudes [deg] leaf and snow follow other laws.
TROPIC_DEG = 23.5
HALF_A_YEAR = 6
#: Shares of a season's own three months, and of the month at either side.
_IN, _NEAR = 1.0, 0.4
_DECEMBER = 11


@dataclass(frozen=True)
class Sign:
    """Be a sign of the season.

    Attributes
    ----------
    name, what : str
        What it is called, and what is seen.
    shares : tuple of float
        January to December, in the northern hemisphere: in what share of such months
        it is seen.
    trust : float
        How probable one who reports it saw right.
    mark : str
        Where the shares are from.
    """

    name: str
    what: str
    shares: tuple[float, ...]
    trust: float
    mark: str


def read_signs(text: str, file: str) -> dict[str, Sign]:
    """Read a table of signs.

    Parameters
    ----------
    text : str
        TOML with ``[[sign]]`` rows.
    file : str
        Its name, for messages.

    Raises
    ------
    EvidenceError
        If it cannot be read, or a row is not complete.
    """
    try:
        rows = tomllib.loads(text).get("sign", [])
    except tomllib.TOMLDecodeError as trouble:
        raise EvidenceError(
            f"{file} cannot be read as TOML: {trouble}.", "Correct that place."
        ) from trouble
    found = {}
    for row in rows:
        name, shares = row.get("name"), row.get("shares")
        fits = isinstance(shares, list) and len(shares) == 2 * HALF_A_YEAR
        fits = fits and all(
            type(share) in (int, float) and 0.0 <= share <= 1.0 for share in shares
        )
        if not isinstance(name, str) or not name or not fits or not any(shares):
            raise EvidenceError(
                f"In {file} a sign has no name, or not twelve shares between 0 and 1.",
                'Write name = "..." and shares = [...], January first.',
            )
        turned = _turned(tuple(map(float, shares)), row.get("hemisphere") == "south")
        trust = float(row.get("trust", 0.9))
        found[name] = Sign(
            name, str(row.get("what", name)), turned, trust,
            str(row.get("mark", "from memory")),
        )  # fmt: skip
    return found


@cache
def known_signs() -> Mapping[str, Sign]:
    """Return the signs that come with the program, by name."""
    text = resources.files("wherestood.dating").joinpath("signs.toml").read_text()
    return read_signs(text, "signs.toml")


def season_item(
    key: str, name: str, lat_deg: float, signs: Mapping[str, Sign] | None = None
) -> Season:
    """Make an item of a sign that the picture shows.

    Parameters
    ----------
    key : str
        What the item is called by.
    name : str
        The sign's.
    lat_deg : float
        Latitude of the ground shown [deg]: the hemisphere is taken from it.
    signs : mapping of str to Sign, optional
        Those known; else those that come with the program.

    Raises
    ------
    EvidenceError
        If no sign is called so, or the ground lies within the tropics.
    """
    known = known_signs() if signs is None else signs
    if name not in known:
        raise EvidenceError(
            f"No sign of the season is called {name!r}.", f"Known: {', '.join(known)}."
        )
    if abs(lat_deg) < TROPIC_DEG:
        raise EvidenceError(
            f"The sign {name!r} counts nothing within the tropics ({lat_deg:.1f} deg): "
            "the seasons there are others.",
            "Say in which months it is seen in that country, as a sign of your own.",
        )
    sign = known[name]
    return Season(
        key, sign.what, _turned(sign.shares, lat_deg < 0.0), trust=sign.trust,
        source=sign.mark,
    )  # fmt: skip


def in_season(item: Exposed, edtf: str, lat_deg: float | None) -> Exposed:
    """Hold a date of the exposure to the season that it names, as in ``1871-21``.

    Season and year are one word of one source: right together, or wrong.

    Parameters
    ----------
    item : Exposed
        Of the date's year.
    edtf : str
        The date.
    lat_deg : float or None
        Latitude [deg]; needed where the date does not say which hemisphere's it is.

    Returns
    -------
    Exposed
        As it was where the date has no season, or is a span. A season over New Year is
        that of either end of its year.

    Raises
    ------
    EvidenceError
        If the hemisphere is neither written nor known.
    """
    read = read_edtf(edtf)
    date = None if read is None or read.is_span else read.begin
    code = None if date is None else date.season
    if code is None or code > 32:  # thirds and halves of years count as whole years
        return item
    if code <= 24 and lat_deg is None:
        raise EvidenceError(
            f"The season of {edtf!r} does not say which hemisphere's it is.",
            "Write 25 to 28 for spring to winter of the north, 29 to 32 of the south.",
        )
    south = code >= 29 or (code <= 24 and (lat_deg or 0.0) < 0.0)
    # Spring begins in March in the north.
    first = 2 + 3 * ((code - 21) % 4) + (HALF_A_YEAR if south else 0)
    shares = [0.0] * (2 * HALF_A_YEAR)
    for step, share in ((-1, _NEAR), (0, _IN), (1, _IN), (2, _IN), (3, _NEAR)):
        shares[(first + step) % 12] = share
    when = item.when
    if first % 12 == _DECEMBER and when.full_to is not None and when.fall_to:
        when = replace(when, full_to=when.full_to + 3, fall_to=when.fall_to + 3)
    return replace(item, when=when, shares=tuple(shares))


def _turned(shares: tuple[float, ...], south: bool) -> tuple[float, ...]:
    """Turn shares by half a year for the south, or from it."""
    return shares[HALF_A_YEAR:] + shares[:HALF_A_YEAR] if south else shares
