"""Time the horizon, a ray on one thread, against GRASS and against a ray mesh.

All see the same ground, the real sample that ships with matplotlib, from the same
stations at the same distances:

- Ours, sixty stations a call, so that a call's own start-up hardly counts: a search
  computes hundreds together.
- GRASS's `r.horizon`, on a sphere's projection so that its bearings are the grid's.
  Start-up is excluded twice over. *A ray*: a run of 36 000 bearings less a run of 36.
  *Walking alone*: a run of 36 000 less a run of as many that end after one cell, which
  leaves out its printing and its turning of bearings as well, and is what it could do
  at best.
- Embree, through embreex: bisection of each ray's elevation from -30 to 30 degrees down
  to a hundredth, 13 rays a bearing, on two triangles a cell, without curvature.

All times are of the processor, so that what else the machine does hardly counts.
Errors are rms against a march of half a metre over the same bilinear surface.
"""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path

os.environ.setdefault("NUMBA_NUM_THREADS", "1")

import numba
import numpy as np
import rasterio
import trimesh
from numpy.typing import NDArray
from rasterio import Affine
from trimesh.ray.ray_pyembree import RayMeshIntersector

from wherestood.demo.ground import jacksboro
from wherestood.earth.frame import Frame
from wherestood.terrain.eight_rays import fill_horizon
from wherestood.terrain.horizon import HorizonModel
from wherestood.terrain.model import Terrain
from wherestood.terrain.rays import ray_steps

EARTH_RADIUS_M = 6_371_000.0
BEARINGS = 720
MANY_BEARINGS = 36_000
FEW_BEARINGS = 36
ROUNDS = 3
#: How often the stations are repeated in one of our calls.
TURNS = 10
BISECTIONS = 13
LEAST_AGAINST_GRASS = 5.0
LEAST_AGAINST_EMBREE = 6.0
#: Bytes in the table of the gather rate: well within one core's second-level cache.
GATHER_TABLE_BYTES = 256 * 1024


@dataclass(frozen=True)
class Ground:
    """Hold a ground, the stations on it as (row, column), and the rays' length."""

    name: str
    heights_m: NDArray[np.float32]
    cell_m: float
    farthest_m: float
    stations: tuple[tuple[int, int], ...]

    def places(self) -> tuple[NDArray[np.float64], ...]:
        """Return east, north and height of the stations [m]: each on its node."""
        rows, columns = np.array(self.stations).T
        heights_m = self.heights_m[rows, columns].astype(np.float64)
        return columns * self.cell_m, rows * self.cell_m, heights_m

    def model(self, refraction: float) -> HorizonModel:
        """Return the ground made ready for horizons."""
        terrain = Terrain(
            self.heights_m,
            0.0,
            0.0,
            self.cell_m,
            Frame.local(0.0, 36.6),
            refraction=refraction,
        )
        return HorizonModel.of(terrain, EARTH_RADIUS_M)


def ground_of(name: str, heights_m: NDArray[np.float32], cell_m: float) -> Ground:
    """Choose six stations in a ground's middle, and half its width for the rays."""
    rng = np.random.default_rng(12)
    size = np.array(heights_m.shape)
    places = rng.integers(2 * size // 5, 3 * size // 5, (6, 2))
    farthest_m = float(size.min() * cell_m * 0.4)
    stations = tuple((int(row), int(column)) for row, column in places)
    return Ground(name, heights_m, cell_m, farthest_m, stations)


def grounds() -> list[Ground]:
    """Return the real sample at 30 m, at 10 m, and mirrored to twice its size."""
    at_30_m = jacksboro(30.0).elevation_m
    at_10_m = jacksboro(10.0).elevation_m
    south = np.hstack((at_30_m[::-1, ::-1], at_30_m[::-1]))
    north = np.hstack((at_30_m[:, ::-1], at_30_m))
    return [
        ground_of("30 m", at_30_m, 30.0),
        ground_of("10 m", at_10_m, 10.0),
        ground_of("30 m, mirrored", np.vstack((south, north)), 30.0),
    ]


def bearings_rad(count: int) -> NDArray[np.float64]:
    """Return bearings all round [rad]."""
    return np.arange(count) * 2.0 * np.pi / count


@numba.njit(nogil=True, error_model="numpy")
def march(heights, cell, x0, y0, z0, sine, cosine, nearest, farthest, kappa):  # type: ignore[no-untyped-def]
    """Return the greatest tangent among samples half a metre apart."""
    best = -1e9
    for step in range(int((farthest - nearest) / 0.5) + 1):
        d = nearest + 0.5 * step
        x = (x0 + d * sine) / cell
        y = (y0 + d * cosine) / cell
        i = int(x)
        j = int(y)
        if x < 0.0 or y < 0.0 or i > heights.shape[1] - 2 or j > heights.shape[0] - 2:
            break
        fx = x - i
        fy = y - j
        low = heights[j, i] * (1.0 - fx) + heights[j, i + 1] * fx
        high = heights[j + 1, i] * (1.0 - fx) + heights[j + 1, i + 1] * fx
        best = max(best, (low * (1.0 - fy) + high * fy - z0) / d - kappa * d)
    return best


def marched_deg(ground: Ground, station: int, kappa: float) -> NDArray[np.float64]:
    """Return the dense march's horizon from a station [deg]."""
    place = [float(values[station]) for values in ground.places()]
    tangents = [
        march(
            ground.heights_m,
            ground.cell_m,
            *place,
            np.sin(bearing),
            np.cos(bearing),
            ground.cell_m,
            ground.farthest_m,
            kappa,
        )
        for bearing in bearings_rad(BEARINGS)
    ]
    return np.degrees(np.arctan(np.array(tangents)))


def rms_deg(one: NDArray[np.float64], other: NDArray[np.float64]) -> float:
    """Return the root of the mean square of a difference, to four digits."""
    return float(f"{np.sqrt(np.mean((one - other) ** 2)):.2g}")


def our_seconds(ground: Ground, model: HorizonModel, count: int) -> float:
    """Return seconds a ray on one thread."""
    best = np.inf
    places = [np.tile(values, TURNS) for values in ground.places()]
    for _ in range(ROUNDS + 1):
        start = time.process_time()
        model.horizons(
            *places,
            bearings_rad(count),
            nearest_m=ground.cell_m,
            farthest_m=ground.farthest_m,
        )
        best = min(best, time.process_time() - start)
    return best / (count * len(places[0]))


def our_deg(ground: Ground, model: HorizonModel, station: int) -> NDArray[np.float64]:
    """Return our horizon from a station [deg]."""
    found = model.horizons(
        *(values[station : station + 1] for values in ground.places()),
        bearings_rad(BEARINGS),
        nearest_m=ground.cell_m,
        farthest_m=ground.farthest_m,
    )
    return np.degrees(np.arctan(found.tangent[0]))


def looks_a_ray(ground: Ground, model: HorizonModel) -> float:
    """Return how many blocks and cells a ray looks at."""
    cell, turned = ground.cell_m, bearings_rad(BEARINGS)
    empty = np.empty(BEARINGS)
    looks = [
        fill_horizon(
            model.pyramid.parts,
            east_m / cell,
            north_m / cell,
            height_m,
            *ray_steps(turned),
            1.0,
            np.full(BEARINGS, ground.farthest_m / cell),
            model.curvature_per_m * cell * cell,
            empty,
            empty.copy(),
            None,
            0.0,
            np.empty(0),
            np.arange(BEARINGS),
        )
        for east_m, north_m, height_m in zip(*ground.places(), strict=True)
    ]
    return float(np.mean(looks)) / BEARINGS


@numba.njit(nogil=True)
def gather(table, places):  # type: ignore[no-untyped-def]
    """Add up a table's values at scattered places."""
    total = np.float32(0.0)
    for k in range(places.size):
        total += table[places[k]]
    return total


def gathers_per_second() -> float:
    """Return how many scattered cached values one core reads in a second."""
    rng = np.random.default_rng(13)
    table = rng.uniform(size=GATHER_TABLE_BYTES // 4).astype(np.float32)
    places = rng.integers(0, table.size, 1_000_000).astype(np.uint32)
    gather(table, places)
    best = np.inf
    for _ in range(10):
        start = time.process_time()
        gather(table, places)
        best = min(best, time.process_time() - start)
    return places.size / best


def write_grid(ground: Ground, path: Path) -> None:
    """Write a ground so that cell centres are its nodes."""
    rows, columns = ground.heights_m.shape
    cell = ground.cell_m
    with rasterio.open(
        path,
        "w",
        driver="GTiff",
        height=rows,
        width=columns,
        count=1,
        dtype="float32",
        crs=f"+proj=merc +R={EARTH_RADIUS_M} +units=m +no_defs",
        transform=Affine(cell, 0.0, -cell / 2, 0.0, -cell, (rows - 0.5) * cell),
    ) as target:
        target.write(ground.heights_m[::-1], 1)


def grass_script(ground: Ground) -> str:
    """Return the commands that time r.horizon from each station."""
    lines = [
        "set -e; TIMEFORMAT=%U",
        "r.in.gdal --quiet input=ground.tif output=ground",
        "g.region raster=ground",
    ]
    runs = {
        "many": (360.0 / MANY_BEARINGS, ground.farthest_m),
        "few": (360.0 / FEW_BEARINGS, ground.farthest_m),
        "short": (360.0 / MANY_BEARINGS, ground.cell_m),
        "table": (360.0 / BEARINGS, ground.farthest_m),
    }
    for number, (row, column) in enumerate(ground.stations):
        place = f"{column * ground.cell_m},{row * ground.cell_m}"
        for name, (step_deg, farthest_m) in runs.items():
            for _ in range(1 if name == "table" else ROUNDS):
                lines.append(
                    "{ time r.horizon -d -c --quiet --overwrite elevation=ground "
                    f"coordinates={place} step={step_deg} maxdistance={farthest_m} "
                    f"file={name}_{number}.csv 2>/dev/null; }} 2>>{name}_{number}.time"
                )
    return "\n".join(lines)


def run_grass(
    ground: Ground,
) -> tuple[float, float, list[NDArray[np.float64]]]:
    """Return r.horizon's seconds a ray, a walk alone, and horizons [deg]."""
    seconds: dict[str, float] = {"many": 0.0, "few": 0.0, "short": 0.0}
    horizons = []
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        write_grid(ground, folder / "ground.tif")
        (folder / "run.sh").write_text(grass_script(ground))
        subprocess.run(
            ["grass", "--tmp-location", "ground.tif", "--exec", "bash", "run.sh"],
            cwd=folder,
            check=True,
            capture_output=True,
            env={**os.environ, "OMP_NUM_THREADS": "1"},
        )
        for number in range(len(ground.stations)):
            for run in seconds:
                times = (folder / f"{run}_{number}.time").read_text().split()
                seconds[run] += min(float(word) for word in times)
            table = np.loadtxt(
                folder / f"table_{number}.csv", delimiter=",", skiprows=1
            )
            horizons.append(table[np.argsort(table[:, 0] % 360.0), 1])
    rays = len(ground.stations)
    return (
        (seconds["many"] - seconds["few"]) / (rays * (MANY_BEARINGS - FEW_BEARINGS)),
        (seconds["many"] - seconds["short"]) / (rays * MANY_BEARINGS),
        horizons,
    )


def against_grass(ground: Ground, gather_rate: float) -> dict[str, object]:
    """Return a row: ours against r.horizon on one ground."""
    model = ground.model(refraction=0.0)
    ours_s = our_seconds(ground, model, BEARINGS)
    dense_s = our_seconds(ground, model, 3600)
    theirs_s, walk_s, theirs_deg = run_grass(ground)
    truth = [marched_deg(ground, k, model.curvature_per_m) for k in range(2)]
    looks = looks_a_ray(ground, model)
    return {
        "what": f"horizon a ray against r.horizon, {ground.name}, "
        f"{ground.farthest_m / 1000:.0f} km",
        "ours_us": round(ours_s * 1e6, 3),
        "theirs_us": round(theirs_s * 1e6, 3),
        "ratio": round(theirs_s / ours_s, 1),
        "least_ratio": LEAST_AGAINST_GRASS,
        "ratio_to_walking_alone": round(walk_s / ours_s, 1),
        "ratio_at_3600_bearings": round(theirs_s / dense_s, 1),
        "ours_rms_deg": rms_deg(
            np.concatenate([our_deg(ground, model, k) for k in range(2)]),
            np.concatenate(truth),
        ),
        "theirs_rms_deg": rms_deg(
            np.concatenate(theirs_deg[:2]), np.concatenate(truth)
        ),
        "looks_a_ray": round(looks, 1),
        "share_of_gather_rate": round(looks / ours_s / gather_rate, 3),
    }


def meshed(ground: Ground) -> RayMeshIntersector:
    """Return Embree's scene of two triangles a cell."""
    rows, columns = ground.heights_m.shape
    j, i = np.indices(ground.heights_m.shape)
    points = np.column_stack((i.ravel(), j.ravel(), ground.heights_m.ravel()))
    points[:, :2] *= ground.cell_m
    first = (np.arange(rows - 1)[:, None] * columns + np.arange(columns - 1)).ravel()
    lower = np.column_stack((first, first + 1, first + columns + 1))
    upper = np.column_stack((first, first + columns + 1, first + columns))
    mesh = trimesh.Trimesh(points, np.vstack((lower, upper)), process=False)
    return RayMeshIntersector(mesh, scale_to_box=False)


def bisect(
    scene: RayMeshIntersector, origin_m: NDArray[np.float64], nearest_m: float
) -> tuple[NDArray[np.float64], float]:
    """Return a station's horizon [deg], and the seconds spent inside Embree."""
    turned = bearings_rad(BEARINGS)
    low, high = np.full(BEARINGS, -30.0), np.full(BEARINGS, 30.0)
    spent_s = 0.0
    for _ in range(BISECTIONS):
        middle = 0.5 * (low + high)
        slope = np.tan(np.radians(middle))
        direction = np.column_stack((np.sin(turned), np.cos(turned), slope))
        start = (origin_m + nearest_m * direction).astype(np.float32)
        direction = direction.astype(np.float32)
        begun = time.process_time()
        hit = scene._scene.run(start, direction, query="OCCLUDED")
        spent_s += time.process_time() - begun
        blocked = np.asarray(hit) != -1
        low, high = np.where(blocked, middle, low), np.where(blocked, high, middle)
    return 0.5 * (low + high), spent_s


def against_embree(ground: Ground, gather_rate: float) -> dict[str, object]:
    """Return a row: ours against bisection in Embree on one ground.

    Lenses stand 30 m above their nodes, so that no ray begins underground.
    """
    lifted = Lifted(ground)
    model = ground.model(refraction=1.0)
    ours_s = our_seconds(lifted, model, BEARINGS)
    scene = meshed(ground)
    best_s, theirs_deg = np.inf, []
    for _ in range(ROUNDS):
        found = [
            bisect(scene, np.array(place), 1.0)
            for place in zip(*lifted.places(), strict=True)
        ]
        best_s = min(best_s, sum(spent_s for _, spent_s in found))
        theirs_deg = [horizon_deg for horizon_deg, _ in found]
    theirs_s = best_s / (BEARINGS * len(ground.stations))
    truth = np.concatenate([marched_deg(lifted, k, 0.0) for k in range(2)])
    ours_deg = np.concatenate([our_deg(lifted, model, k) for k in range(2)])
    looks = looks_a_ray(lifted, model)
    return {
        "what": f"horizon a ray against embree bisection, {ground.name}",
        "ours_us": round(ours_s * 1e6, 3),
        "theirs_us": round(theirs_s * 1e6, 3),
        "ratio": round(theirs_s / ours_s, 1),
        "least_ratio": LEAST_AGAINST_EMBREE,
        "ours_rms_deg": rms_deg(ours_deg, truth),
        "theirs_rms_deg": rms_deg(np.concatenate(theirs_deg[:2]), truth),
        "looks_a_ray": round(looks, 1),
        "share_of_gather_rate": round(looks / ours_s / gather_rate, 3),
    }


class Lifted(Ground):
    """Be a ground whose lenses stand 30 m up and whose rays run to its edge."""

    def __init__(self, ground: Ground) -> None:
        super().__init__(
            ground.name, ground.heights_m, ground.cell_m, 1e5, ground.stations
        )

    def places(self) -> tuple[NDArray[np.float64], ...]:
        """Return east, north and height of the stations [m]."""
        east_m, north_m, height_m = super().places()
        return east_m, north_m, height_m + 30.0


def compared() -> list[dict[str, object]]:
    """Return the rows, on as many threads as numba is set to."""
    gather_rate = gathers_per_second()
    rows: list[dict[str, object]] = []
    every = grounds()
    if shutil.which("grass") is None:
        rows.append({"what": "horizon against r.horizon", "left_out": "no grass"})
    else:
        rows += [against_grass(ground, gather_rate) for ground in every]
    rows.append(against_embree(every[0], gather_rate))
    return rows


def main() -> list[dict[str, object]]:
    """Return one row a comparison."""
    threads = numba.get_num_threads()
    numba.set_num_threads(1)
    try:
        return compared()
    finally:
        numba.set_num_threads(threads)


if __name__ == "__main__":
    for row in main():
        print(json.dumps(row))
