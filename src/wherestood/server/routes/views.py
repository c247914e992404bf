"""Answer for what a camera at a place would show of the terrain."""

from __future__ import annotations

from typing import Annotated, Any

import numpy as np
from fastapi import APIRouter, Query
from fastapi.responses import Response
from numpy.typing import NDArray
from sqlalchemy import select

from wherestood.daybook import Daybook
from wherestood.daybook.tables import Feature, FeatureName
from wherestood.ground.place import Place, stand
from wherestood.ground.rendering import HAZE_M, ViewLook, camera_at, render_view
from wherestood.ground.view import (
    Known,
    difference_px,
    horizon_px,
    named_in_view,
    ridges_px,
)
from wherestood.plans.laid import LaidPicture
from wherestood.server.compact import known, png_of
from wherestood.server.desk import Book, DeskNeeded
from wherestood.server.forms.ground import (
    Difference,
    NamedInView,
    ViewAsked,
    ViewTold,
)
from wherestood.server.forms.looking import CameraGiven, LineRun
from wherestood.server.grounds import Ground
from wherestood.server.plan_tiles import plan_copy
from wherestood.server.plate_ground import ground_of
from wherestood.server.routes.items import item_of
from wherestood.server.routes.traced import camera_of, opened_plate, skyline_on

__all__ = ["router"]

router = APIRouter(prefix="/api", tags=["views"])
_LONGEST_RENDERING_PX = 1600


@router.post("/plates/{plate_id}/view", operation_id="getView")
def view(desk: DeskNeeded, book: Book, plate_id: str, asked: ViewAsked) -> ViewTold:
    """Compute what a camera at a place would show, in pixels of the plate's scan."""
    ground, _ = ground_of(desk, book, plate_id)
    opened = opened_plate(desk, book, plate_id)
    place = _stood(ground, asked)
    camera = camera_of(asked.camera, opened, place.turn_deg)
    pixels, distance_m = horizon_px(place, camera)
    runs, distances = _runs(pixels, distance_m)
    skyline = skyline_on(book, plate_id)
    difference = None
    if skyline is not None:
        x_px, up_px = difference_px(skyline, pixels)
        there = up_px[np.isfinite(up_px)]
        difference = Difference(
            x_px=[float(x) for x in np.round(x_px, 1)],
            up_px=known(up_px, 2),
            rms_px=float(np.sqrt(np.mean(there**2))) if there.size else None,
        )
    return ViewTold(
        horizon=runs,
        distance_m=distances,
        ridges=[
            (float(a), float(b), float(c), float(d))
            for a, b, c, d in np.round(ridges_px(place, camera), 2)
        ],
        names=[
            NamedInView(
                feature_id=one.known.id,
                name=one.known.name,
                x_px=one.x_px,
                y_px=one.y_px,
                distance_m=one.distance_m,
                bearing_deg=one.bearing_deg,
                elevation_deg=one.elevation_deg,
                height_m=one.height_m,
                seen=one.seen,
                hidden_by_m=max(one.hidden_by_m, 0.0),
            )
            for one in named_in_view(place, camera, _features(book, ground))
        ],
        difference=difference,
    )


@router.post(
    "/plates/{plate_id}/rendering",
    operation_id="getRendering",
    response_class=Response,
    responses={200: {"content": {"image/png": {}}}},
)
def rendering(
    desk: DeskNeeded,
    book: Book,
    plate_id: str,
    asked: ViewAsked,
    px: Annotated[int, Query(ge=100, le=_LONGEST_RENDERING_PX)] = 1200,
    haze: bool = True,
    ridge_lines: bool = True,
    plan_id: Annotated[str, Query(description="A plan to lay over the ground.")] = "",
) -> Response:
    """Draw the terrain as a camera at a place would show it, hill-shaded."""
    ground, _ = ground_of(desk, book, plate_id)
    opened = opened_plate(desk, book, plate_id)
    place = _stood(ground, asked)
    camera = camera_of(asked.camera, opened, place.turn_deg)
    draped = None
    if plan_id:
        with book.reading() as session:
            plan = item_of(session, "plans", plan_id)
        copy = plan_copy(book, plan)
        draped = LaidPicture.open(copy, "GTiff", ground.terrain.frame)
    look = ViewLook(HAZE_M if haze else None, ridge_lines, draped)
    picture = render_view(
        ground.solid, camera_at(place, camera), (camera.width_px, camera.height_px),
        px, look,
    )  # fmt: skip
    return Response(png_of(picture), media_type="image/png")


@router.get("/plates/{plate_id}/camera_guess", operation_id="guessCamera")
def camera_guess(desk: DeskNeeded, book: Book, plate_id: str) -> CameraGiven:
    """Give a camera as usual for the plate, to begin with before any fix."""
    opened = opened_plate(desk, book, plate_id)
    with book.reading() as session:
        plate = item_of(session, "plates", plate_id)
    diagonal_px = float(np.hypot(opened.width_px, opened.height_px))
    distance_px = USUAL_DISTANCE * diagonal_px
    if plate.principal_distance_mm and opened.px_per_mm:
        distance_px = plate.principal_distance_mm * opened.px_per_mm
    return CameraGiven(bearing_deg=0.0, principal_distance_px=distance_px)


#: Median of what is believed of principal distance over the frame's diagonal
#: (`wherestood.camera.priors`).
USUAL_DISTANCE = 0.92


def _stood(ground: Ground, asked: ViewAsked) -> Place:
    return stand(
        ground.model,
        ground.standing,
        asked.east_m,
        asked.north_m,
        above_m=asked.above_m,
        lens_m=asked.lens_m,
    )


def _runs(
    pixels: NDArray[np.float64], distance_m: NDArray[np.float64]
) -> tuple[list[LineRun], list[list[float]]]:
    """Return a line's pieces where it is known, and their distances."""
    there = np.asarray(np.isfinite(pixels).all(axis=1))
    edges = np.flatnonzero(np.diff(there.astype(int))) + 1
    runs, distances = [], []
    for part in np.split(np.arange(there.size), edges):
        if part.size < 2 or not there[part[0]]:
            continue
        runs.append(
            LineRun(
                x_px=[float(v) for v in np.round(pixels[part, 0], 2)],
                y_px=[float(v) for v in np.round(pixels[part, 1], 2)],
            )
        )
        distances.append([float(v) for v in np.round(distance_m[part], 1)])
    return runs, distances


def _features(book: Daybook, ground: Ground) -> list[Known]:
    """Return the daybook's features that stand at a point, in the ground's grid."""
    frame = ground.terrain.frame
    with book.reading() as session:
        names: dict[str, str] = {}
        called = select(FeatureName).where(FeatureName.removed.is_(False))
        for name in session.scalars(called.order_by(FeatureName.key)):
            names.setdefault(name.feature_id, name.name)
        wanted = select(Feature).where(
            Feature.removed.is_(False), Feature.geometry.is_not(None)
        )
        points = [
            (feature, coordinates[0], coordinates[1])
            for feature in session.scalars(wanted)
            if (coordinates := _point_of(feature)) is not None
        ]
    if not points:
        return []
    # All at once: one by one each takes as long as a thousand.
    east, north = frame.from_lonlat(
        np.array([lon for _, lon, _ in points]), np.array([lat for _, _, lat in points])
    )
    return [
        Known(
            feature.id,
            names.get(feature.id) or feature.what or feature.key,
            float(east_m),
            float(north_m),
            feature.height_m,
            feature.object_height_m or 0.0,
        )
        for (feature, _, _), east_m, north_m in zip(points, east, north, strict=True)
        if np.isfinite(east_m)
    ]


def _point_of(feature: Feature) -> list[float] | None:
    """Return where a feature stands; None of a line or an outline."""
    geometry: dict[str, Any] = feature.geometry or {}
    if geometry.get("type") != "Point":
        return None
    return list(geometry["coordinates"])
