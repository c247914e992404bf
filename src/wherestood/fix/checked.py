"""Hold what the checks of a fix found."""

from __future__ import annotations

from dataclasses import dataclass

__all__ = [
    "Advice",
    "Agreement",
    "Checks",
    "Conflict",
    "HeldBack",
    "Indeterminate",
    "LeftOut",
    "MissingGround",
]


@dataclass(frozen=True)
class LeftOut:
    """Hold what a fix would be without some of its evidence.

    Attributes
    ----------
    name : str
        The group, or the item that has none.
    ids : tuple of str
        Items left out together.
    moved_m : float
        How far the mean station moves [m].
    east_m, north_m : float
        That movement's parts [m].
    area_ratio : float
        Ground that holds 90% without it over that with it.
    agrees : float
        Log of how likely the station found with it is without it, against the
        likeliest then: 0 where it points to the same spot, far below where it alone
        holds the fix there.
    expected_m : float
        How far it may well move along that way: the doubt of the difference of the
        two answers, a standard error [m].
    moved_sds : float
        The movement against the doubt of the difference, both ways together.
    area_m2 : float
        Ground that holds 90% without it [m2].
    near_share : float
        Most probability within near enough of one place without it.
    lon_deg, lat_deg : float
        Mean station without it, WGS 84 [deg].
    """

    name: str
    ids: tuple[str, ...]
    moved_m: float
    east_m: float
    north_m: float
    area_ratio: float
    agrees: float
    expected_m: float = float("nan")
    moved_sds: float = float("nan")
    area_m2: float = float("nan")
    near_share: float = float("nan")
    lon_deg: float = float("nan")
    lat_deg: float = float("nan")


@dataclass(frozen=True)
class Agreement:
    """Hold whether one kind of evidence speaks of the same place as all other kinds.

    Attributes
    ----------
    name : str
        The kind.
    ids : tuple of str
        Its items.
    log_odds : float
        Log of how much likelier both are of one station and camera than each of one
        of its own, in the ground searched.
    apart_m, apart_sds : float
        Between the mean stations of the two, and that against its doubt [m].
    alone_m2 : float
        Ground that holds 90% by this kind alone [m2].
    """

    name: str
    ids: tuple[str, ...]
    log_odds: float
    apart_m: float
    apart_sds: float
    alone_m2: float


@dataclass(frozen=True)
class HeldBack:
    """Hold where a mark that did not count was foretold, and where it is.

    Attributes
    ----------
    id, feature : str
        The mark, and the feature it is.
    x_px, y_px : float
        Where its feature was foretold to show [px].
    long_px, short_px, turn_deg : float
        Half axes of the ellipse of one standard error, mark's own error included,
        and the way the long one points: clockwise from right, on the scan [px, deg].
    off_px : float
        From there to the mark [px].
    off_sds : float
        The same against the ellipse.
    share_beyond : float
        Probability of an error as great as this or greater.
    """

    id: str
    feature: str
    x_px: float
    y_px: float
    long_px: float
    short_px: float
    turn_deg: float
    off_px: float
    off_sds: float
    share_beyond: float


@dataclass(frozen=True)
class Conflict:
    """Hold evidence that cannot all be so at any place.

    Attributes
    ----------
    blunders : tuple of str
        Groups that would be blunders at the likeliest place.
    probability : float
        That so much of it is a blunder, by the trust it was given.
    smallest : tuple of str
        The smallest groups that cannot all be so; without any one of them the others
        can.
    searched_all : bool
        Whether there was time to make sure that it is the smallest.
    """

    blunders: tuple[str, ...]
    probability: float
    smallest: tuple[str, ...]
    searched_all: bool = True


@dataclass(frozen=True)
class Indeterminate:
    """Say in which way the evidence hardly fixes the station.

    Attributes
    ----------
    long_m, short_m : float
        Standard errors along and across the way it is least sure [m].
    grid_bearing_deg : float
        That way, from 0 to 180 [deg].
    near_circle_m : float
        How far the station lies from the circle on which the angles between three
        features do not change [m]; NaN where that is not why.
    on_circle : tuple of str
        Those features.
    one_way_deg : float
        Within how wide an angle all features lie; NaN where that is not why [deg].
    """

    long_m: float
    short_m: float
    grid_bearing_deg: float
    near_circle_m: float = float("nan")
    on_circle: tuple[str, ...] = ()
    one_way_deg: float = float("nan")


@dataclass(frozen=True)
class Advice:
    """Hold something to look up, and what it would do to the answer.

    Attributes
    ----------
    what : str
        ``"place"`` of a marked feature, ``"identity"`` of a mark, ``"detail"`` whose
        place is to be found, ``"mark"`` to be made on the plate, ``"summit"`` or
        ``"crossing"`` to be marked there, ``"lens"``, ``"plate size"``, ``"trim"``,
        ``"in line"``.
    subjects : tuple of str
        Ids of the marks and features it is about, the mark before its feature.
    to : float
        How well it is to be known: metres of a place, degrees of an in line, share of
        a lens's length; NaN where that is not the question.
    area_before_m2, area_after_m2 : float
        Ground that holds 90% now, and on average once it is known [m2].
    lon_deg, lat_deg : float
        Where the thing stands, NaN for none [deg].
    height_m, distance_m, bearing_deg : float
        Of ground: its height, and from the likeliest station how far and in which true
        direction; NaN for none [m, deg].
    """

    what: str
    subjects: tuple[str, ...]
    to: float
    area_before_m2: float
    area_after_m2: float
    lon_deg: float = float("nan")
    lat_deg: float = float("nan")
    height_m: float = float("nan")
    distance_m: float = float("nan")
    bearing_deg: float = float("nan")


@dataclass(frozen=True)
class MissingGround:
    """Hold where the elevation model ends before hills that might matter.

    Attributes
    ----------
    bearing_deg : float
        True bearing of the middle of the stretch of the view [deg].
    wide_deg : float
        How wide it is [deg].
    ends_m : float
        Where the model ends there, at the nearest [m].
    hill_m : float
        A hill so high just beyond would stand above the skyline: height in the
        model's datum [m].
    """

    bearing_deg: float
    wide_deg: float
    ends_m: float
    hill_m: float


@dataclass(frozen=True)
class Checks:
    """Hold what the checks found beside leaving out each in turn.

    Attributes
    ----------
    agreement : tuple of Agreement
        Whether each kind of evidence speaks of the place of all others.
    without_statements : LeftOut or None
        What the fix would be without what people say.
    held_back : tuple of HeldBack
        Where marks that did not count were foretold.
    conflict : Conflict or None
        Evidence that cannot all be so at any place.
    indeterminate : Indeterminate or None
        In which way the station is hardly fixed.
    advice : tuple of Advice
        What would shrink the ground that holds it most, the best first.
    missing_ground : tuple of MissingGround
        Which elevation would matter.
    """

    agreement: tuple[Agreement, ...] = ()
    without_statements: LeftOut | None = None
    held_back: tuple[HeldBack, ...] = ()
    conflict: Conflict | None = None
    indeterminate: Indeterminate | None = None
    advice: tuple[Advice, ...] = ()
    missing_ground: tuple[MissingGround, ...] = ()
