"""Invent a plate of marks on the tests' smooth hills."""

from __future__ import annotations

import numpy as np

from wherestood.demo.camera_truth import CameraTruth
from wherestood.evidence.items import Evidence, Feature, Mark, gather
from wherestood.terrain.ground import StandingGround
from wherestood.terrain.model import Terrain

STATION_M = (310.0, -240.0)
LENS_M = 1.5
BEARING_DEG = 40.0
#: Ahead and to the right of the station [m], height of the thing above ground [m].
THINGS = (
    (420.0, -120.0, 12.0),
    (700.0, 210.0, 15.0),
    (950.0, -330.0, 20.0),
    (1400.0, 60.0, 25.0),
    (1800.0, 520.0, 25.0),
    (2300.0, -700.0, 30.0),
    (600.0, 30.0, 10.0),
)


def camera() -> CameraTruth:
    """Return the true camera."""
    return CameraTruth(
        bearing_deg=BEARING_DEG,
        tilt_deg=0.5,
        roll_deg=-0.4,
        c_px=1300.0,
        x0_px=605.0,
        y0_px=470.0,
        k1=0.0,
        width_px=1200,
        height_px=900,
    )


def evidence_of(land: Terrain, *, blunder: int | None = None) -> Evidence:
    """Return the marks, exact but for one that is 300 px off if asked."""
    ground = StandingGround(land.elevation_m, land.west_m, land.south_m, land.cell_m)
    turn = np.radians(BEARING_DEG)
    ahead, right, tall = np.array(THINGS).T
    east = STATION_M[0] + ahead * np.sin(turn) + right * np.cos(turn)
    north = STATION_M[1] + ahead * np.cos(turn) - right * np.sin(turn)
    height = np.asarray(ground.at(east, north)) + tall
    station = np.array(STATION_M)
    lens = float(ground.at(station[:1], station[1:])[0]) + LENS_M
    away2 = (east - station[0]) ** 2 + (north - station[1]) ** 2
    drop = (1.0 - land.refraction) * away2 / (2.0 * 6.371e6)
    rays = np.column_stack(
        (east - station[0], north - station[1], height - drop - lens)
    )
    x, y = camera().project(rays)
    if blunder is not None:
        x[blunder] += 300.0
    lon, lat = land.frame.to_lonlat(east, north)
    return gather(
        Mark(
            id=f"mark {n}",
            x_px=float(x[n]),
            y_px=float(y[n]),
            features=Feature(
                id=f"thing {n}",
                geometry=(float(lon[n]), float(lat[n])),
                sd_m=2.0,
                height_m=float(height[n]),
                height_sd_m=1.0,
            ),
        )
        for n in range(len(x))
    )
