"""Compare stations found from marks alone with a robust resection by OpenCV.

Invented plates show 6 to 10 marked points (2 px, 5 m, one of them 150 m wrong) and no
skyline. OpenCV is *given* the true principal distance and principal point:
``solvePnPRansac`` with a threshold of 3 sqrt(2^2 + (5 c / D)^2) px, then refinement on
its inliers. Ours is told nothing of the lens, or its principal distance to 0.1%.
OpenCV solves for the height of the lens, ours takes it from the ground. Seeds are
fixed. Run::

    python benchmarks/marks_against_opencv.py [PLATES]
"""

from __future__ import annotations

import math
import sys
from pathlib import Path

# The benchmarks beside this one, wherever it is run from.
sys.path.insert(0, str(Path(__file__).parent))

import cv2
import numpy as np
import shapely

from seen_points import SeenPoints, far_apart, seen_points
from study_plates import PX_PER_MM, plates_of, scan_of, searched
from wherestood.demo.invented import InventedCase
from wherestood.demo.world import World
from wherestood.evidence.items import Evidence, Feature, Mark, gather
from wherestood.fix.locate import locate
from wherestood.fix.settings import LocateSettings

SEED = 40_000
MARK_SD_PX = 2.0
GROUND_SD_M = 5.0
BLUNDER_M = 150.0
PLATES = 30
#: A lens that is not known may cost a quarter more.
LEAST_UNKNOWN = 0.8


def marked_points(
    world: World, case: InventedCase, rng: np.random.Generator
) -> SeenPoints | None:
    """Mark points of the ground that the plate shows; None if it shows too few."""
    count = int(rng.integers(6, 11))
    seen = seen_points(world, case, rng)
    if seen.x_px.size < 2 * count:
        return None
    chosen = far_apart(seen, count)
    noise = rng.normal(0.0, GROUND_SD_M, (3, count))
    way = rng.uniform(0.0, 2.0 * np.pi)
    noise[0, 0] += BLUNDER_M * np.sin(way)
    noise[1, 0] += BLUNDER_M * np.cos(way)
    return SeenPoints(
        chosen.east_m + noise[0],
        chosen.north_m + noise[1],
        chosen.height_m + noise[2],
        chosen.x_px + rng.normal(0.0, MARK_SD_PX, count),
        chosen.y_px + rng.normal(0.0, MARK_SD_PX, count),
    )


def by_opencv(case: InventedCase, points: SeenPoints) -> float:
    """Return how far OpenCV's station lies from the truth [m]."""
    camera = case.camera
    # Lowered by curvature and refraction, as seen from the true station.
    away = np.hypot(
        points.east_m - case.station_m[0], points.north_m - case.station_m[1]
    )
    lowered = points.height_m - (1.0 - case.refraction) * away**2 / (2.0 * 6.371e6)
    world = np.column_stack((points.east_m, points.north_m, lowered))
    middle = world.mean(axis=0)
    image = np.column_stack((points.x_px, points.y_px))
    matrix = np.array(
        [
            [camera.c_px, 0.0, camera.x0_px],
            [0.0, camera.c_px, camera.y0_px],
            [0.0, 0.0, 1.0],
        ]
    )
    threshold = 3.0 * math.hypot(
        MARK_SD_PX, GROUND_SD_M * camera.c_px / float(np.median(away))
    )
    cv2.setRNGSeed(1)
    found, turn, shift, inliers = cv2.solvePnPRansac(
        world - middle,
        image,
        matrix,
        None,
        iterationsCount=2000,
        reprojectionError=threshold,
        flags=cv2.SOLVEPNP_SQPNP,
    )
    if not found or inliers is None or len(inliers) < 4:
        return math.inf
    kept = inliers.ravel()
    turn, shift = cv2.solvePnPRefineLM(
        (world - middle)[kept], image[kept], matrix, None, turn, shift
    )
    station = (-cv2.Rodrigues(turn)[0].T @ shift).ravel() + middle
    return float(np.hypot(*(station[:2] - case.station_m[:2])))


def evidence_of(case: InventedCase, points: SeenPoints) -> Evidence:
    """Return the points as marks."""
    lon, lat = case.terrain().frame.to_lonlat(points.east_m, points.north_m)
    return gather(
        Mark(
            id=f"mark {number}",
            x_px=float(points.x_px[number]),
            y_px=float(points.y_px[number]),
            sd_px=MARK_SD_PX,
            features=Feature(
                id=f"point {number}",
                geometry=(float(lon[number]), float(lat[number])),
                sd_m=GROUND_SD_M,
                height_m=float(points.height_m[number]),
                height_sd_m=GROUND_SD_M,
            ),
        )
        for number in range(len(lon))
    )


def by_ours(
    case: InventedCase,
    points: SeenPoints,
    rng: np.random.Generator,
    *,
    lens_known: bool,
) -> tuple[float, bool, str]:
    """Return the error [m], whether the 90% region holds the truth, the verdict."""
    camera = case.camera
    mm = camera.c_px / PX_PER_MM
    settings = LocateSettings(
        surface=case.model.surface,
        reversed=False,
        principal_distance_mm=mm if lens_known else None,
        principal_distance_sd_mm=0.001 * mm if lens_known else None,
    )
    terrain = case.terrain()
    fix = locate(
        scan_of(case, PX_PER_MM),
        terrain,
        None,
        searched(case, rng),
        settings=settings,
        evidence=evidence_of(case, points),
    )
    lon, lat = terrain.frame.to_lonlat(*case.station_m[:2])
    inside = fix.regions[0.9].buffer(1e-9).contains(shapely.Point(lon, lat))
    off = math.hypot(
        fix.station.east_m - case.station_m[0], fix.station.north_m - case.station_m[1]
    )
    return off, bool(inside), fix.verdict


def compared(wanted: int) -> np.ndarray:
    """Return one row a plate: OpenCV's error, ours twice [m], and whether ours holds.

    Ours with the lens unknown comes before ours with the lens known.
    """
    rows: list[tuple[float, ...]] = []
    number = 0
    while len(rows) < wanted:
        for index, (world, case) in enumerate(plates_of(number, SEED)):
            rng = np.random.default_rng((SEED, number, index))
            points = marked_points(world, case, rng)
            if points is None or len(rows) == wanted:
                continue
            theirs = by_opencv(case, points)
            unknown = by_ours(case, points, rng, lens_known=False)
            known = by_ours(case, points, rng, lens_known=True)
            rows.append((theirs, unknown[0], known[0], unknown[1], known[1]))
            print(
                f"{number}-{index} {len(points.x_px)} marks: OpenCV {theirs:.1f} m, "
                f"ours {unknown[0]:.1f} ({unknown[2]}), lens known {known[0]:.1f} "
                f"({known[2]})",
                file=sys.stderr,
                flush=True,
            )
        number += 1
    return np.array(rows)


def main(plates: int = PLATES) -> list[dict[str, object]]:
    """Return two rows: OpenCV's median error over ours, our lens unknown and known."""
    table = compared(plates)
    theirs_m = float(np.median(table[:, 0]))
    rows: list[dict[str, object]] = []
    for column, lens, least in ((1, "unknown", LEAST_UNKNOWN), (2, "known", 1.0)):
        ours_m = float(np.median(table[:, column]))
        rows.append(
            {
                "what": f"station from marks alone, our lens {lens}, against "
                "solvePnPRansac given the lens",
                "ratio": round(theirs_m / ours_m, 2),
                "least_ratio": least,
                "ours_median_m": round(ours_m, 1),
                "theirs_median_m": round(theirs_m, 1),
                "plates": len(table),
                "region_90_held": int(table[:, column + 2].sum()),
                "ground_height": "ours takes it from the model, theirs solves for it",
            }
        )
    return rows


if __name__ == "__main__":
    for row in main(int(sys.argv[1]) if len(sys.argv) > 1 else PLATES):
        print(row)
