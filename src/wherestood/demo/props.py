"""Build houses, trees, fences, stumps as triangles with a tone each."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from embreex.mesh_construction import TriangleMesh
from embreex.rtcore_scene import EmbreeScene
from numpy.typing import NDArray

__all__ = [
    "PropScene",
    "Props",
    "chimney_top",
    "cottage",
    "fence",
    "joined",
    "stump",
    "tree",
    "tufts",
]

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Props:
    """Hold triangles and how bright each is.

    Attributes
    ----------
    corners_m : (n, 3, 3) float64 array
        Corners by triangle, in east, north, up [m].
    albedo : (n,) float64 array
        Share of blue light given back, 0 to 1.
    boarded : (n,) bool array
        True where the surface is of boards, drawn with shadow lines.
    """

    corners_m: Array
    albedo: Array
    boarded: NDArray[np.bool_]

    def moved(self, by_m: Array, turn_deg: float = 0.0) -> Props:
        """Return them turned clockwise about the vertical, then shifted."""
        s, c = np.sin(np.radians(turn_deg)), np.cos(np.radians(turn_deg))
        turn = np.array([[c, s, 0.0], [-s, c, 0.0], [0.0, 0.0, 1.0]])
        return Props(self.corners_m @ turn.T + by_m, self.albedo, self.boarded)


class PropScene:
    """Cast rays onto props."""

    def __init__(self, props: Props) -> None:
        self.props = props
        self.middle_m = props.corners_m.reshape(-1, 3).mean(axis=0)
        corners = (props.corners_m - self.middle_m).astype(np.float32)
        edges = props.corners_m[:, 1:] - props.corners_m[:, :1]
        normals = np.cross(edges[:, 0], edges[:, 1])
        self.normals = normals / np.linalg.norm(normals, axis=1, keepdims=True)
        self._scene = EmbreeScene(robust=True)
        faces = np.arange(corners.shape[0] * 3, dtype=np.int32).reshape(-1, 3)
        self._mesh = TriangleMesh(self._scene, corners.reshape(-1, 3), faces)

    def first_hits(self, eye_m: Array, rays: Array) -> tuple[Array, NDArray[np.int64]]:
        """Return the distance [m] along unit rays, and which triangle (-1: none)."""
        origins = np.empty((len(rays), 3), dtype=np.float32)
        origins[:] = eye_m - self.middle_m
        result = self._scene.run(
            origins, np.ascontiguousarray(rays, dtype=np.float32), output=True
        )
        which = np.asarray(result["primID"], dtype=np.int64)
        along_m = np.asarray(result["tfar"], dtype=np.float64)
        return np.where(which >= 0, along_m, np.inf), which

    def shaded(self, points_m: Array, sun: Array) -> NDArray[np.bool_]:
        """Tell which points (n, 3) lie in the shadow of a prop."""
        origins = (points_m - self.middle_m).astype(np.float32)
        rays = np.empty_like(origins)
        rays[:] = sun
        return np.asarray(self._scene.run(origins, rays, query="OCCLUDED")) >= 0


def joined(parts: list[Props]) -> Props:
    """Return several props as one."""
    return Props(
        np.concatenate([part.corners_m for part in parts]),
        np.concatenate([part.albedo for part in parts]),
        np.concatenate([part.boarded for part in parts]),
    )


def _quads(corners_m: Array, albedo: float, *, boarded: bool = False) -> Props:
    """Cut quadrilaterals (n, 4, 3) in two triangles each."""
    quads = np.asarray(corners_m, dtype=np.float64).reshape(-1, 4, 3)
    halves = np.concatenate([quads[:, [0, 1, 2]], quads[:, [0, 2, 3]]])
    n = len(halves)
    return Props(halves, np.full(n, albedo), np.full(n, boarded))


def _box(
    low: tuple[float, float, float],
    high: tuple[float, float, float],
    albedo: float,
    *,
    boarded: bool = False,
) -> Props:
    """Return the four sides and the top of an upright box."""
    (x0, y0, z0), (x1, y1, z1) = low, high
    ring = [(x0, y0), (x1, y0), (x1, y1), (x0, y1), (x0, y0)]
    sides = [[(*a, z0), (*b, z0), (*b, z1), (*a, z1)] for a, b in pairwise(ring)]
    top = [(x, y, z1) for x, y in ring[:4]]
    return _quads(np.array([*sides, top]), albedo, boarded=boarded)


def chimney_top(long_m: float, ridge_m: float) -> tuple[float, float, float]:
    """Return the middle of a cottage's chimney top, as `cottage` stands [m]."""
    return long_m / 2.0 - 0.9, 0.0, ridge_m + 0.9


def cottage(long_m: float, deep_m: float, wall_m: float, ridge_m: float) -> Props:
    """Return a boarded cottage with its front to the south, centred at the origin."""
    x, y, eave = long_m / 2.0, deep_m / 2.0, 0.35
    walls = _box((-x, -y, -1.5), (x, y, wall_m), 0.62, boarded=True)
    gables = [
        [(s * x, -y, wall_m), (s * x, y, wall_m), (s * x, 0.0, ridge_m)]
        for s in (-1.0, 1.0)
    ]
    gable = Props(np.array(gables), np.full(2, 0.6), np.full(2, True))
    drop = (ridge_m - wall_m) * eave / y
    slopes = [
        [
            (-x - eave, s * (y + eave), wall_m - drop),
            (x + eave, s * (y + eave), wall_m - drop),
            (x + eave, 0.0, ridge_m + 0.05),
            (-x - eave, 0.0, ridge_m + 0.05),
        ]
        for s in (-1.0, 1.0)
    ]
    roof = _quads(np.array(slopes), 0.2, boarded=True)
    from_end, _, top_m = chimney_top(long_m, ridge_m)
    chimney = _box((from_end - 0.4, -0.4, wall_m), (from_end + 0.4, 0.4, top_m), 0.22)
    front = [
        _pane(-0.45, 0.45, 0.0, 2.0, y, 0.1),
        *(
            _pane(at - 0.45, at + 0.45, 0.9, 2.1, y, 0.05)
            for at in (-0.55 * x, 0.6 * x)
        ),
    ]
    return joined([walls, gable, roof, chimney, *front])


def _pane(
    left_m: float, right_m: float, low_m: float, high_m: float, y: float, albedo: float
) -> Props:
    """Return a window or door a hand's breadth in front of a southern wall."""
    front = -y - 0.03
    corners = [
        (left_m, front, low_m),
        (right_m, front, low_m),
        (right_m, front, high_m),
        (left_m, front, high_m),
    ]
    return _quads(np.array([corners]), albedo)


def fence(ground_m: Array) -> Props:
    """Return posts at ground points (n, 3) and three rails between them."""
    posts = [
        _box((x - 0.07, y - 0.07, z - 0.3), (x + 0.07, y + 0.07, z + 1.25), 0.3)
        for x, y, z in ground_m
    ]
    rails = []
    for a, b in pairwise(ground_m):
        for height_m in (0.4, 0.75, 1.1):
            up, thick = np.array([0.0, 0.0, height_m]), np.array([0.0, 0.0, 0.11])
            rails.append([a + up, b + up, b + up + thick, a + up + thick])
    return joined([*posts, _quads(np.array(rails), 0.34)])


def stump(height_m: float, rng: np.random.Generator) -> Props:
    """Return the stump of a felled tree, pale where it was cut."""
    angle = np.linspace(0.0, 2.0 * np.pi, 10)
    reach = rng.uniform(0.18, 0.32) * (1.0 + 0.15 * rng.standard_normal(10))
    reach[-1] = reach[0]
    x, y = reach * np.cos(angle), reach * np.sin(angle)
    top = height_m * (1.0 + 0.05 * rng.standard_normal(10))
    top[-1] = top[0]
    sides = [
        [
            (1.3 * x[i], 1.3 * y[i], -0.3),
            (1.3 * x[i + 1], 1.3 * y[i + 1], -0.3),
            (x[i + 1], y[i + 1], top[i + 1]),
            (x[i], y[i], top[i]),
        ]
        for i in range(9)
    ]
    caps = [
        [(0.0, 0.0, height_m), (x[i], y[i], top[i]), (x[i + 1], y[i + 1], top[i + 1])]
        for i in range(9)
    ]
    cap = Props(np.array(caps), np.full(9, 0.5), np.full(9, False))
    return joined([_quads(np.array(sides), 0.14), cap])


def tree(
    height_m: float,
    spread_m: float,
    leaves: int,
    leaf_m: float,
    rng: np.random.Generator,
) -> Props:
    """Return a tree: trunk, boughs, and clumps of leaves about the bough ends."""
    boughs = 18
    ends = rng.standard_normal((boughs, 3))
    ends *= (rng.uniform(0.5, 1.0, boughs) / np.linalg.norm(ends, axis=1))[:, None]
    ends *= np.array([spread_m, spread_m, 0.38 * height_m])
    ends[:, 2] += 0.66 * height_m
    thick = 0.017 * height_m
    top = np.array([*(0.03 * height_m * rng.standard_normal(2)), 0.62 * height_m])
    limbs = [_limb(np.array([0.0, 0.0, -0.5]), top, thick, 0.35 * thick)]
    for end in ends:
        start = top * rng.uniform(0.45, 1.0)
        elbow = start + (end - start) * np.array([0.6, 0.6, 0.35])
        limbs.append(_limb(start, elbow, 0.4 * thick, 0.25 * thick))
        limbs.append(_limb(elbow, end, 0.25 * thick, 0.08 * thick))
    clump = ends[rng.integers(0, boughs, leaves)]
    sizes = np.array([0.36, 0.36, 0.24]) * spread_m
    centres = clump + sizes * rng.standard_normal((leaves, 3)) * 0.62
    sizes_m = leaf_m * rng.uniform(0.5, 1.4, leaves)
    leaf = rng.uniform(-1.6, 1.6, (leaves, 3, 3)) * sizes_m[:, None, None]
    albedo = 0.05 * np.exp(0.45 * rng.standard_normal(leaves))
    crown = Props(centres[:, None, :] + leaf, albedo, np.full(leaves, False))
    return joined([*limbs, crown])


def _limb(start: Array, end: Array, thick_start: float, thick_end: float) -> Props:
    """Return a five-sided tapering limb."""
    along = (end - start) / np.linalg.norm(end - start)
    side = np.cross(along, np.array([0.37, 0.83, 0.42]))
    side /= np.linalg.norm(side)
    other = np.cross(along, side)
    angle = np.linspace(0.0, 2.0 * np.pi, 6)
    ring = np.cos(angle)[:, None] * side + np.sin(angle)[:, None] * other
    near, far = start + thick_start * ring, end + thick_end * ring
    sides = np.stack([near[:-1], near[1:], far[1:], far[:-1]], axis=1)
    return _quads(sides, 0.11)


def tufts(roots_m: Array, height_m: Array, rng: np.random.Generator) -> Props:
    """Return blades of grass, some at each root (n, 3)."""
    blades = 9
    n = len(roots_m) * blades
    root = np.repeat(roots_m, blades, axis=0)
    tall = np.repeat(height_m, blades) * rng.uniform(0.5, 1.1, n)
    angle = rng.uniform(0.0, 2.0 * np.pi, n)
    flat = np.stack([np.cos(angle), np.sin(angle), np.zeros(n)], axis=1)
    root = root + flat * (0.25 * tall * rng.random(n))[:, None]
    tip = (
        root + flat * (0.5 * tall)[:, None] + np.array([0.0, 0.0, 1.0]) * tall[:, None]
    )
    across = np.stack([-flat[:, 1], flat[:, 0], np.zeros(n)], axis=1)
    width = (0.005 + 0.006 * rng.random(n))[:, None] * across
    low = np.array([0.0, 0.0, 0.06])
    corners = np.stack([root - width - low, root + width - low, tip], axis=1)
    albedo = 0.2 * np.exp(0.3 * rng.standard_normal(n))
    return Props(corners, albedo, np.full(n, False))
