"""Invent a phone picture of a plan of the valley: its corners, its fence, its pins."""

from __future__ import annotations

import json
import sqlite3
from pathlib import Path
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw

from wherestood.daybook import Daybook
from wherestood.daybook.tables import Feature, FeatureName

#: Of the picture [px].
WIDTH_PX, HEIGHT_PX = 1000, 760
#: Corners of the sheet in the picture, from the upper left round with the clock [px]:
#: it lay askew before the phone.
ON_PICTURE = ((90.0, 60.0), (930.0, 110.0), (880.0, 700.0), (50.0, 640.0))
#: The ground that the sheet shows, about the terrain's middle [m].
WEST_M, SOUTH_M, EAST_M, NORTH_M = -350.0, 60.0, 350.0, 560.0
#: Posts that stand to this day [m].
POSTS_M = {
    "north-west post": (-320.0, 530.0),
    "north-east post": (310.0, 520.0),
    "south-east post": (300.0, 90.0),
    "south-west post": (-300.0, 100.0),
    "middle post": (20.0, 320.0),
}
#: A fence that nobody has mapped [m].
FENCE_M = ((-70.0, 180.0), (-60.0, 260.0), (100.0, 270.0))
#: The camera stands on a roof: from the plain's own height it would see the fence
#: edgewise.
LENS_M = 118.0


def picture_px(east_m: float, north_m: float) -> tuple[float, float]:
    """Return where a place of the ground is in the picture [px]."""
    x, y, w = _map() @ (east_m, north_m, 1.0)
    return float(x / w), float(y / w)


def _map() -> NDArray[np.float64]:
    ground = [
        (WEST_M, NORTH_M),
        (EAST_M, NORTH_M),
        (EAST_M, SOUTH_M),
        (WEST_M, SOUTH_M),
    ]
    return np.asarray(
        cv2.getPerspectiveTransform(
            np.array(ground, dtype=np.float32), np.array(ON_PICTURE, dtype=np.float32)
        ),
        dtype=np.float64,
    )


def write_picture(path: Path) -> Path:
    """Write the picture: a sheet on a dark table, posts, the fence, parcels."""
    image = Image.new("RGB", (WIDTH_PX, HEIGHT_PX), (70, 58, 48))
    pen = ImageDraw.Draw(image)
    pen.polygon(list(ON_PICTURE), fill=(228, 216, 186))
    for east in (-200.0, 0.0, 200.0):
        pen.line(
            [picture_px(east, SOUTH_M + 30), picture_px(east, NORTH_M - 30)],
            fill=(120, 110, 95),
        )
    pen.line([picture_px(*at) for at in FENCE_M], fill=(60, 40, 30), width=3)
    for at in POSTS_M.values():
        x, y = picture_px(*at)
        pen.rectangle((x - 5, y - 5, x + 5, y + 5), outline=(40, 30, 25), width=2)
    image.save(path, quality=92)
    return path


def add_posts(folder: Path, valley: Any) -> None:
    """Add the posts as features of a daybook."""
    with Daybook.open(folder) as book, book.writing(valley.PERSON) as session:
        for name, at in POSTS_M.items():
            place = {"type": "Point", "coordinates": list(valley.lonlat(*at))}
            feature = Feature(what="survey post", geometry=place, sd_m=0.5)
            session.add(feature)
            session.flush()
            session.add(FeatureName(feature_id=feature.id, name=name))


def stand_in_valley(folder: Path, valley: Any) -> None:
    """Have a daybook's fix stand in the middle of its terrain, looking north.

    The fix is another place's; as answers are never changed through the daybook, it is
    changed behind its back.
    """
    lon, lat = valley.lonlat()
    with sqlite3.connect(folder / "daybook.sqlite") as book:
        [(fix_id, told)] = book.execute("select id, answer from fixes").fetchall()
        answer = json.loads(told)
        answer.pop("draws", None)
        answer["alternatives"] = []
        answer["settings"] |= {
            "lens_height_m": LENS_M - valley.PLAIN_M, "lens_height_sd_m": 0.5,
        }  # fmt: skip
        answer["station"] |= {
            "lon": lon, "lat": lat, "height_m": LENS_M,
            "sd_east_m": 3.0, "sd_north_m": 3.0,
        }  # fmt: skip
        answer["camera"] |= {
            "bearing_deg": 0.0, "tilt_deg": 0.0, "roll_deg": 0.0, "rise_px": 0.0,
            "cross_px": 0.0, "k1": 0.0, "principal_distance_px": 560.0,
            "reversed": False,
        }  # fmt: skip
        scan = answer["inputs"]["scan"]
        scan |= {"width_px": valley.WIDTH_PX, "height_px": valley.HEIGHT_PX}
        scan["corners_px"] = None
        book.execute(
            "update fixes set answer = ?, lon_deg = ?, lat_deg = ? where id = ?",
            (json.dumps(answer), lon, lat, fix_id),
        )
    book.close()


def handed_over(path: Path) -> list[str]:
    """Return what the way through the page is told of the plan."""
    pins = [[name, *picture_px(*at)] for name, at in POSTS_M.items()]
    fence = [picture_px(*at) for at in FENCE_M]
    return [
        f"plan={write_picture(path)}",
        f"plan_px={WIDTH_PX},{HEIGHT_PX}",
        f"pins={json.dumps(pins)}",
        f"fence={json.dumps(fence)}",
    ]
