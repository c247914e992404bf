"""Warn of places told as they are known that stand by one that may not be told.

Two plates exposed from one spot are one place: who publishes the one, publishes the
other. Panoramas are known to share their station; of others only a person can say.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pyproj
from sqlalchemy import select

from wherestood.daybook.decide import standing_decisions
from wherestood.daybook.journal import DaybookSession
from wherestood.daybook.precision import FREE, restricted_plates
from wherestood.daybook.tables import Fix, Plate, ProposedPosition

__all__ = ["NEAR_M", "near_hidden"]

#: So near a place tells nearly all of one that is hidden to a square or more [m].
NEAR_M = 1000.0
_WGS84 = pyproj.Geod(ellps="WGS84")


def near_hidden(session: DaybookSession, plates: Sequence[Plate]) -> tuple[str, ...]:
    """Return a sentence for each plate told exactly that stands by a hidden one.

    Hidden ones count whether they are handed out or not; every station that any of
    their fixes found counts, and every one that somebody proposed.
    """
    limits = restricted_plates(session)
    wanted = select(Plate.key, Fix.plate_id, Fix.lon_deg, Fix.lat_deg).join(
        Plate, Plate.id == Fix.plate_id
    )
    found = wanted.where(
        Fix.removed.is_(False), Fix.withdrawn.is_(None), Fix.lon_deg.is_not(None)
    )
    told = {plate.id for plate in plates if limits.get(plate.id, FREE).is_exact}
    exact, hidden = [], []
    for key, plate_id, lon, lat in session.execute(found):
        if plate_id in told:
            exact.append((key, lon, lat))
        elif not limits.get(plate_id, FREE).is_exact:
            hidden.append((key, lon, lat))
    # What somebody proposed is told where a person decided on it.
    decided = {one.proposed_position_id for one in standing_decisions(session).values()}
    said_so = select(Plate.key, ProposedPosition).join(
        Plate, Plate.id == ProposedPosition.plate_id
    )
    proposed = said_so.where(
        ProposedPosition.removed.is_(False), ProposedPosition.withdrawn.is_(None),
        ProposedPosition.lon_deg.is_not(None), ProposedPosition.lat_deg.is_not(None),
    )  # fmt: skip
    for key, place in session.execute(proposed):
        lon, lat, plate_id = place.lon_deg, place.lat_deg, place.plate_id
        if plate_id in told and place.id in decided:
            exact.append((key, lon, lat))
        elif not limits.get(plate_id, FREE).is_exact:
            hidden.append((key, lon, lat))
    if not exact or not hidden:
        return ()
    lon_deg, lat_deg = (np.array([one[k] for one in exact]) for k in (1, 2))
    said: dict[tuple[str, str], float] = {}
    for other, lon, lat in hidden:
        here = np.full(len(exact), lon), np.full(len(exact), lat)
        _, _, apart_m = _WGS84.inv(lon_deg, lat_deg, *here)
        for k in np.flatnonzero(apart_m <= NEAR_M):
            pair = (exact[k][0], other)
            said[pair] = min(float(apart_m[k]), said.get(pair, NEAR_M))
    return tuple(
        f"{key} is told as it is known, and its camera stood {apart_m:.0f} m from that "
        f"of {other}, which may not be told so. Restrict it too, or leave it out."
        for (key, other), apart_m in said.items()
    )
