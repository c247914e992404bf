"""Find how many minutes lie between two plates of a panorama of a daybook."""

from __future__ import annotations

from dataclasses import dataclass, replace

from sqlalchemy import select
from sqlalchemy.orm import Session

from wherestood.dating.between_plates import MinutesBetween, minutes_between
from wherestood.dating.items import Item
from wherestood.dating.shadow import Shadow
from wherestood.dating.shadow_points import CameraDoubt, sights
from wherestood.dating.sun_path import Horizon, Where
from wherestood.dating.weigh import months_considered, weigh
from wherestood.daybook.book import Daybook
from wherestood.daybook.camera_of_fix import FixedCamera, fixed_camera, last_fix
from wherestood.daybook.date_items import exact_days
from wherestood.daybook.hills import Hills
from wherestood.daybook.keep_panorama import fixes_together
from wherestood.daybook.keys import find
from wherestood.daybook.named_items import items_of_plate
from wherestood.daybook.region import region_of
from wherestood.daybook.seen_kept import seen_kept
from wherestood.daybook.sun_of_plate import day_weights
from wherestood.daybook.tables import Plate
from wherestood.earth.geodesy import distance_and_bearing
from wherestood.errors import InputError
from wherestood.evidence.edtf import Day

__all__ = ["Apart", "minutes_apart", "others_of_panorama"]

#: Cameras farther apart are of two stations [m]; fixes of one differ by their doubt.
FAR_APART_M = 300.0


@dataclass(frozen=True)
class Apart:
    """Hold the minutes between two plates.

    Attributes
    ----------
    first, second : str
        The plates' keys.
    found : MinutesBetween
    notes : tuple of str
        What must be known of it.
    """

    first: str
    second: str
    found: MinutesBetween
    notes: tuple[str, ...]


def minutes_apart(
    book: Daybook, first: str, second: str, hills: Hills | None = None
) -> Apart:
    """Find how many minutes lie between two plates of one station and day.

    Parameters
    ----------
    book : Daybook
    first, second : str
        The plates' keys.
    hills : callable, optional
        Gives the horizon, so that no hour counts with the sun behind hills.

    Raises
    ------
    InputError
        If one has no fix or no shadow, they are one plate, or their dates clash.
    """
    if first == second:
        raise InputError(
            "Both plates are one and the same.", "Name two plates of a panorama."
        )
    with book.reading() as session:
        plates = [find(session, Plate, key) for key in (first, second)]
        cameras = [fixed_camera(session, plate) for plate in plates]
        shadows = [
            _shadows(session, plate, fixed)
            for plate, fixed in zip(plates, cameras, strict=True)
        ]
        region = region_of(session)
        items: list[Item] = []
        exact: list[tuple[Day, float]] = []
        for plate in plates:
            for item in items_of_plate(session, plate, region):
                same = next((each for each in items if each.key == item.key), None)
                if same is None:
                    items.append(item)
                elif same != item:  # another sign of the same key on the other plate
                    items.append(replace(item, key=f"{plate.key}/{item.key}"))
            exact += exact_days(session, plate)
        together = _made_together(session, plates)
    whole = weigh(items, *months_considered(region.between))
    if not whole.possible:
        raise InputError(
            "The dates of the two plates contradict one another.",
            "Settle the dates first: a panorama is of one day.",
        )
    one = cameras[0]
    horizon: Horizon | None = None
    if hills is not None:
        seen = [
            sight
            for camera, of_it in zip(cameras, shadows, strict=True)
            for sight in sights(camera.camera, [shadow.foot_px for shadow in of_it])
        ]
        horizon = hills(one.lon_deg, one.lat_deg, one.lens_m, seen)
    where = Where(one.lon_deg, one.lat_deg, one.lens_m, horizon)
    found = minutes_between(
        (cameras[0].camera, shadows[0]), (cameras[1].camera, shadows[1]),
        _wider(cameras[0].doubt, cameras[1].doubt), where,
        *day_weights(whole, exact),
    )  # fmt: skip
    return Apart(
        first, second, found, tuple(_notes(plates, cameras, together=together))
    )


def others_of_panorama(session: Session, plate: Plate) -> list[Plate]:
    """Return the other plates of a plate's panorama, by key."""
    if plate.panorama is None:
        return []
    wanted = select(Plate).where(
        Plate.panorama == plate.panorama, Plate.id != plate.id,
        Plate.removed.is_(False), Plate.withdrawn.is_(None),
    )  # fmt: skip
    return list(session.scalars(wanted.order_by(Plate.key)))


def _shadows(session: Session, plate: Plate, fixed: FixedCamera) -> tuple[Shadow, ...]:
    kept = seen_kept(session, plate, ("shadow",), fixed.places)
    shadows = tuple(one.seen for one in kept.items if isinstance(one.seen, Shadow))
    if not shadows:
        raise InputError(
            f"No shadow is kept of {plate.key}.",
            "Mark one: wherestood when PLATE --shadow FOOT:TIP:TOP --keep.",
        )
    return shadows


def _wider(one: CameraDoubt, other: CameraDoubt) -> CameraDoubt:
    """Return what covers the doubts of both cameras."""
    return CameraDoubt(
        max(one.bearing_rad, other.bearing_rad),
        max(one.elevation_rad, other.elevation_rad),
        max(one.roll_rad, other.roll_rad),
        max(one.log_distance, other.log_distance),
    )


def _made_together(session: Session, plates: list[Plate]) -> bool:
    """Tell whether the last fixes of two plates are of one search of both."""
    one, other = (last_fix(session, plate) for plate in plates)
    return one is not None and other in fixes_together(session, one)


def _notes(
    plates: list[Plate], cameras: list[FixedCamera], *, together: bool
) -> list[str]:
    notes = []
    one, other = cameras
    far_m, _ = distance_and_bearing(
        one.lon_deg, one.lat_deg, other.lon_deg, other.lat_deg
    )
    if float(far_m) > FAR_APART_M:
        notes.append(
            f"The two cameras stood {float(far_m):.0f} m apart by their fixes: is it "
            "one panorama?"
        )
    names = {plate.panorama for plate in plates}
    if len(names) > 1 or None in names:
        notes.append("The daybook does not call the two plates one panorama.")
    notes.append(
        "The bearing of both is off by the same: they were located as one panorama."
        if together
        else "The bearing of both is taken to be off by the same, though each was "
        "located by itself: locate them as one panorama, or the minutes may be off by "
        "four a degree."
    )
    return notes
