"""Invent one more item of each kind of evidence for a plate, with its usual error."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
import shapely

from coverage_end_to_end import picture_of
from seen_points import SeenPoints, far_apart, seen_points
from wherestood.demo.invented import InventedCase
from wherestood.demo.world import World
from wherestood.errors import SkylineError
from wherestood.evidence.items import (
    Evidence,
    Feature,
    Hidden,
    InLine,
    Item,
    KnownDistance,
    KnownSize,
    Mark,
    Order,
    PlumbEdge,
    RidgeLine,
    Seen,
    Statement,
    WaterLevel,
    gather,
)
from wherestood.evidence.items.on_plate import EDGE_LEAN_SD_DEG, MARK_SD_PX
from wherestood.evidence.items.relations import IN_LINE_SD_DEG
from wherestood.evidence.ridge_lines import MACHINE_TRUST
from wherestood.plate.inner_ridges import trace_ridges
from wherestood.plate.skyline import Skyline
from wherestood.plate.trace import trace_skyline

FEATURE_SD_M = 5.0
HEIGHT_SD_M = 2.0
#: Two things in line are told from each other where one is this much farther off.
FARTHER_BY = 1.5
MAST_M, MAST_SD_M = 20.0, 1.0
EDGE_M = 15.0
PACED_SD_M = 60.0
SAID_WITHIN_M, SAID_WEIGHT = 300.0, 0.8
SHORE_SD_M, SHORE_POINTS = 10.0, 4
#: Points of one height lie this near it [m].
LEVEL_M = 0.4
#: What is hidden lies this far down behind what hides it, seen from the lens [deg].
WELL_HIDDEN_DEG = 0.5


@dataclass(frozen=True)
class View:
    """Hold an invented plate with points that it shows, on open ground.

    Attributes
    ----------
    world, case : World, InventedCase
    points : SeenPoints
    rng : numpy.random.Generator
    """

    world: World
    case: InventedCase
    points: SeenPoints
    rng: np.random.Generator

    def feature(self, name: str, at: int, *, height: bool = True) -> Feature:
        """Return a point as a person knows it, its place and height a little off."""
        points, rng = self.points, self.rng
        east = points.east_m[at] + rng.normal(0.0, FEATURE_SD_M)
        north = points.north_m[at] + rng.normal(0.0, FEATURE_SD_M)
        return Feature(
            self.lonlat(east, north),
            id=name,
            sd_m=FEATURE_SD_M,
            height_m=float(points.height_m[at] + rng.normal(0.0, HEIGHT_SD_M))
            if height
            else None,
            height_sd_m=HEIGHT_SD_M if height else None,
        )

    def lonlat(self, east_m: float, north_m: float) -> tuple[float, float]:
        """Return longitude and latitude of a place [deg]."""
        frame = self.case.terrain().frame
        lon, lat = frame.to_lonlat(np.array([east_m]), np.array([north_m]))
        return float(lon[0]), float(lat[0])

    def off_m(self) -> tuple[np.ndarray, np.ndarray]:
        """Return how far east and north of the station the points lie [m]."""
        station = self.case.station_m
        return self.points.east_m - station[0], self.points.north_m - station[1]

    def pixel(self, at: int, up_m: float = 0.0, aside_m: float = 0.0) -> np.ndarray:
        """Return where the plate shows what stands so far above a point [px]."""
        east, north = (part[at] for part in self.off_m())
        away = math.hypot(east, north)
        # Lowered by the curve of the earth and refraction, as the renderer's rays are.
        drop = self.world.mesh.kappa * away**2
        up = self.points.height_m[at] + up_m - self.case.station_m[2] - drop
        ray = np.array(
            [[east + aside_m * north / away, north - aside_m * east / away, up]]
        )
        return np.concatenate(self.case.camera.project(ray))

    def read(self, pixel: np.ndarray) -> tuple[float, float]:
        """Return a place on the plate as a person marks it [px]."""
        x, y = pixel + self.rng.normal(0.0, MARK_SD_PX, 2)
        return float(x), float(y)


def view_of(world: World, case: InventedCase, rng: np.random.Generator) -> View:
    """Return a plate with points that it shows, those under trees left out."""
    points = seen_points(world, case, rng, 4000)
    rows = np.rint((points.north_m - world.south_m) / world.cell_m).astype(int)
    columns = np.rint((points.east_m - world.west_m) / world.cell_m).astype(int)
    bare = world.canopy_m[rows, columns] <= 0.0
    return View(world, case, points.take(bare), rng)


def added_items(view: View) -> Iterator[tuple[str, list[Item]]]:
    """Give each kind of evidence with one invented item of it, or a few alike.

    Kinds that the plate offers nothing for are passed over.
    """
    makers = {
        "one mark": lambda: _marks(view, 1),
        "one mark, its height not known": lambda: _marks(view, 1, height=False),
        "three marks": lambda: _marks(view, 3),
        "two things in line": lambda: _in_line(view),
        "two things so far apart": lambda: _spacing(view),
        "an order": lambda: _order(view),
        "something seen": lambda: [Seen(view.feature("seen", 0), at="ground")],
        "something hidden": lambda: _hidden(view),
        "three upright edges": lambda: _edges(view),
        "a water level": lambda: _water(view),
        "a known size": lambda: _size(view),
        "a known distance": lambda: _distance(view),
        "a statement, within 300 m": lambda: _within(view),
        "a statement, along a road": lambda: _along(view),
        "ridge lines by machine": lambda: _ridges(view),
    }
    for name, make in makers.items():
        try:
            yield name, make()
        except LookupError:
            continue


def evidence_of(items: list[Item]) -> Evidence:
    """Return items as the evidence of a plate."""
    return gather(items)


def _marks(view: View, count: int, *, height: bool = True) -> list[Item]:
    chosen = far_apart(view.points, count)
    at = [int(np.flatnonzero(view.points.x_px == x)[0]) for x in chosen.x_px]
    made: list[Item] = []
    for number, index in enumerate(at):
        x, y = view.read(view.pixel(index))
        feature = view.feature(f"point {number}", index, height=height)
        made.append(Mark(x, y, feature, id=f"mark {number}"))
    return made


def _bearings_deg(view: View) -> tuple[np.ndarray, np.ndarray]:
    """Return bearings [deg] and distances [m] of the points."""
    east, north = view.off_m()
    return np.degrees(np.arctan2(east, north)), np.hypot(east, north)


def _in_line(view: View) -> list[Item]:
    """Find two points that stand over one another within the error of the reading."""
    bearing, away = _bearings_deg(view)
    turn = (bearing[:, None] - bearing[None, :] + 180.0) % 360.0 - 180.0
    apart = (np.abs(turn) < IN_LINE_SD_DEG) & (
        away[None, :] > FARTHER_BY * away[:, None]
    )
    pairs = np.argwhere(apart)
    if not len(pairs):
        raise LookupError("nothing stands in line")
    near, far = pairs[int(view.rng.integers(len(pairs)))]
    return [InLine(view.feature("near", near), view.feature("far", far), id="in line")]


def _two(view: View, most_deg: float) -> tuple[int, int]:
    """Return two points at different distances, so near in bearing."""
    bearing, away = _bearings_deg(view)
    turn = (bearing[:, None] - bearing[None, :] + 180.0) % 360.0 - 180.0
    apart = (np.abs(turn) < most_deg) & (np.abs(turn) > 2.0 * IN_LINE_SD_DEG)
    pairs = np.argwhere(apart & (away[None, :] > FARTHER_BY * away[:, None]))
    if not len(pairs):
        raise LookupError("no two such things")
    one, other = pairs[int(view.rng.integers(len(pairs)))]
    return int(one), int(other)


def _spacing(view: View) -> list[Item]:
    one, other = _two(view, 20.0)
    bearing, _ = _bearings_deg(view)
    left = (bearing[other] - bearing[one] + 180.0) % 360.0 - 180.0
    read = float(left + view.rng.normal(0.0, IN_LINE_SD_DEG))
    a, b = view.feature("a", one), view.feature("b", other)
    return [InLine(a, b, left_deg=read, id="spacing")]


def _order(view: View) -> list[Item]:
    one, other = _two(view, 3.0)
    bearing, _ = _bearings_deg(view)
    left = (bearing[other] - bearing[one] + 180.0) % 360.0 - 180.0 > 0.0
    a, b = view.feature("a", one), view.feature("b", other)
    return [Order(a, b, "left of" if left else "right of", id="order")]


def _hidden(view: View) -> list[Item]:
    """Find ground within the picture that nearer ground hides well."""
    world, case, rng = view.world, view.case, view.rng
    camera = case.camera
    half = math.atan(camera.width_px / 2.0 / camera.c_px)
    bearing = math.radians(camera.bearing_deg) + rng.uniform(-0.8, 0.8, 400) * half
    away = rng.uniform(300.0, 4000.0, 400)
    east = case.station_m[0] + away * np.sin(bearing)
    north = case.station_m[1] + away * np.cos(bearing)
    height = world.mesh.surface_m(east, north)
    drop = world.mesh.kappa * away**2
    tangent = (height - drop - case.station_m[2]) / away
    raised = tangent + math.tan(math.radians(WELL_HIDDEN_DEG))
    rays = np.column_stack((np.sin(bearing), np.cos(bearing), raised))
    reach = world.mesh.first_hits(case.station_m, rays).distance_m
    hidden = np.flatnonzero(np.isfinite(height) & (reach < 0.9 * away))
    if not hidden.size:
        raise LookupError("nothing is hidden")
    at = hidden[0]
    place = view.lonlat(float(east[at]), float(north[at]))
    feature = Feature(
        place,
        id="hidden thing",
        sd_m=FEATURE_SD_M,
        height_m=float(height[at]),
        height_sd_m=HEIGHT_SD_M,
    )
    return [Hidden(feature, at="ground", id="hidden")]


def _edges(view: View) -> list[Item]:
    made: list[Item] = []
    _, away = _bearings_deg(view)
    for number, at in enumerate(np.argsort(away)[:: max(1, away.size // 3)][:3]):
        lean = math.radians(view.rng.normal(0.0, EDGE_LEAN_SD_DEG))
        top = view.pixel(at, EDGE_M, EDGE_M * math.tan(lean))
        ends = (view.read(view.pixel(at)), view.read(top))
        made.append(PlumbEdge(ends, id=f"edge {number}"))
    if not made:
        raise LookupError("nothing to stand on")
    return made


def _water(view: View) -> list[Item]:
    """Take points of one height for the edge of still water."""
    height = np.sort(view.points.height_m)
    if height.size < SHORE_POINTS:
        raise LookupError("too little is seen")
    spread = height[SHORE_POINTS - 1 :] - height[: -SHORE_POINTS + 1]
    best = int(np.argmin(spread))
    if spread[best] > LEVEL_M:
        raise LookupError("nothing is level")
    level = float(height[best : best + SHORE_POINTS].mean())
    at = np.argsort(np.abs(view.points.height_m - level))[:SHORE_POINTS]
    bearing, _ = _bearings_deg(view)
    at = at[np.argsort(bearing[at])]
    pixels = tuple(view.read(view.pixel(index)) for index in at)
    east, north = view.points.east_m[at], view.points.north_m[at]
    line = [view.lonlat(*place) for place in zip(east, north, strict=True)]
    shore = Feature(shapely.LineString(line), id="shore", sd_m=SHORE_SD_M)
    return [WaterLevel(pixels, shore, height_m=level, id="water")]


def _size(view: View) -> list[Item]:
    _, away = _bearings_deg(view)
    at = int(np.argmin(np.abs(away - np.quantile(away, 0.25))))
    ends = (view.read(view.pixel(at)), view.read(view.pixel(at, MAST_M)))
    length = float(MAST_M + view.rng.normal(0.0, MAST_SD_M))
    mast = view.feature("mast", at)
    return [KnownSize(ends, length, MAST_SD_M, feature=mast, id="size")]


def _distance(view: View) -> list[Item]:
    _, away = _bearings_deg(view)
    at = int(np.argmin(np.abs(away - np.median(away))))
    paced = float(away[at] + view.rng.normal(0.0, PACED_SD_M))
    return [KnownDistance(view.feature("house", at), paced, PACED_SD_M, id="paces")]


def _within(view: View) -> list[Item]:
    """Draw a circle that holds the station as often as the words are right."""
    rng = view.rng
    right = rng.random() < SAID_WEIGHT
    away = SAID_WITHIN_M * (math.sqrt(rng.random()) if right else rng.uniform(1.0, 3.0))
    turn = rng.uniform(0.0, 2.0 * math.pi)
    station = view.case.station_m
    place = view.lonlat(
        float(station[0] + away * math.sin(turn)),
        float(station[1] + away * math.cos(turn)),
    )
    named = Feature(place, id="inn", sd_m=FEATURE_SD_M)
    return [
        Statement(
            named, "within", weight=SAID_WEIGHT, within_m=SAID_WITHIN_M, id="said"
        )
    ]


def _along(view: View) -> list[Item]:
    """Draw a road that passes the station as often as the words are right."""
    rng = view.rng
    right = rng.random() < SAID_WEIGHT
    aside = rng.uniform(-20.0, 20.0) if right else rng.choice([-1, 1]) * 300.0
    turn = rng.uniform(0.0, math.pi)
    along = np.array([math.sin(turn), math.cos(turn)])
    across = np.array([along[1], -along[0]])
    middle = view.case.station_m[:2] + aside * across
    ends = [view.lonlat(*(middle + reach * along)) for reach in (-1500.0, 1500.0)]
    road = Feature(shapely.LineString(ends), id="road", sd_m=FEATURE_SD_M)
    return [Statement(road, "along", weight=SAID_WEIGHT, id="said")]


def _ridges(view: View) -> list[Item]:
    picture = picture_of(view.world, view.case, view.rng)
    share = view.case.camera.width_px / picture.shape[1]
    try:
        lines = trace_ridges(picture, trace_skyline(picture))
    except SkylineError as error:
        raise LookupError("no skyline to trace") from error
    if not lines:
        raise LookupError("no ridge lines")
    return [
        RidgeLine(
            id=f"ridge line {number}",
            line=_enlarged(line, view.case, share),
            trust=MACHINE_TRUST,
        )
        for number, line in enumerate(lines, start=1)
    ]


def _enlarged(line: Skyline, case: InventedCase, share: float) -> Skyline:
    """Return a line traced on a small picture as one on the whole scan."""
    return replace(
        line,
        x_px=line.x_px * share,
        y_px=line.y_px * share,
        sd_px=line.sd_px * share,
        width_px=case.camera.width_px,
        height_px=case.camera.height_px,
    )
