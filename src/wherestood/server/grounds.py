"""Keep opened terrain warm, so that a horizon takes milliseconds."""

from __future__ import annotations

import hashlib
import json
import threading
from collections import OrderedDict
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path
from typing import cast

from wherestood.camera.model import Camera
from wherestood.earth.curvature import curvature_radius_m
from wherestood.errors import WherestoodError
from wherestood.fix.settings import LocateSettings
from wherestood.ground.place import stand
from wherestood.ground.rendering import camera_at, render_view
from wherestood.ground.view import horizon_px, ridges_px
from wherestood.server.troubles import NotThereError
from wherestood.terrain.ground import StandingGround, standing_ground
from wherestood.terrain.horizon import HorizonModel
from wherestood.terrain.map_tiles import MapTiles
from wherestood.terrain.meet import SolidGround
from wherestood.terrain.model import Surface, Terrain
from wherestood.terrain.read import open_terrain

__all__ = ["Ground", "Grounds"]

MOST_WARM = 2


@dataclass(frozen=True)
class Ground:
    """Be a terrain that is ready to be asked.

    Attributes
    ----------
    key : str
        What it is called by.
    terrain : Terrain
    model : HorizonModel
        The same made ready for horizons.
    standing : StandingGround
        The ground that a camera may stand on.
    """

    key: str
    terrain: Terrain
    model: HorizonModel
    standing: StandingGround

    @cached_property
    def solid(self) -> SolidGround:
        """Return the same made ready to be met by rays."""
        return SolidGround.of(self.model)


@dataclass
class Grounds:
    """Open terrains, and keep the last ones."""

    _open: OrderedDict[str, Ground] = field(default_factory=OrderedDict)
    _tiles: dict[str, MapTiles] = field(default_factory=dict)
    _lock: threading.Lock = field(default_factory=threading.Lock)

    def get(self, key: str) -> Ground:
        """Return a terrain that is warm.

        Raises
        ------
        NotThereError
            If it is not, or not any more.
        """
        found = self._open.get(key)
        if found is None:
            raise NotThereError(
                "This ground is not open any more.", "Ask for the plate's ground anew."
            )
        with self._lock:  # who looks at it keeps it warm
            if key in self._open:
                self._open.move_to_end(key)
        return found

    def open(
        self,
        paths: Sequence[Path],
        around_deg: tuple[float, float],
        radius_m: float,
        surface: str,
    ) -> Ground:
        """Return the terrain about a place, opened if it is not warm."""
        key = _key(paths, around_deg, radius_m, surface)
        with self._lock:  # two who ask for the same wait for one opening
            if key in self._open:
                self._open.move_to_end(key)
                return self._open[key]
            terrain = open_terrain(
                paths,
                around=around_deg,
                radius_m=radius_m,
                surface=cast(Surface, surface),
                refraction=LocateSettings.refraction,
            )
            model = HorizonModel.of(terrain, curvature_radius_m(around_deg[1]))
            ground = Ground(key, terrain, model, standing_ground(terrain))
            self._open[key] = ground
            threading.Thread(target=_warm_up, args=(ground,), daemon=True).start()
            while len(self._open) > MOST_WARM:
                self._open.popitem(last=False)
            return ground

    def tiles(
        self, ground: Ground, resolutions_m: Sequence[float], tile_px: int
    ) -> MapTiles:
        """Return what draws a ground's tiles."""
        tiles = self._tiles.get(ground.key)
        if tiles is None:
            tiles = MapTiles(ground.terrain, tile_px, tuple(resolutions_m))
            self._tiles = {ground.key: tiles}
        return tiles

    def forget(self) -> None:
        """Let go of all."""
        with self._lock:
            self._open.clear()
            self._tiles = {}


def _warm_up(ground: Ground) -> None:
    """Have the kernels loaded before somebody drags: they take seconds the first time.

    Whatever goes wrong is told to the person who asks for a horizon.
    """
    terrain = ground.terrain
    rows, columns = terrain.elevation_m.shape
    middle = (
        terrain.west_m + columns / 2.0 * terrain.cell_m,
        terrain.south_m + rows / 2.0 * terrain.cell_m,
    )
    with suppress(WherestoodError):
        place = stand(ground.model, ground.standing, *middle)
        camera = Camera(0.0, 0.0, 0.0, 900.0, 0.0, 0.0, 0.0, 800, 600)
        horizon_px(place, camera)
        ridges_px(place, camera)
        render_view(ground.solid, camera_at(place, camera), (800, 600), 80)


def _key(
    paths: Sequence[Path],
    around_deg: tuple[float, float],
    radius_m: float,
    surface: str,
) -> str:
    """Name a terrain by what it is opened from."""
    files: list[tuple[str, int, int]] = []
    for path in paths:
        for file in sorted(path.rglob("*")) if path.is_dir() else [path]:
            if file.is_file():
                about = file.stat()
                files.append((str(file), about.st_size, about.st_mtime_ns))
    lon_deg, lat_deg = around_deg
    about_all = [files, round(lon_deg, 6), round(lat_deg, 6), round(radius_m), surface]
    return hashlib.sha256(json.dumps(about_all).encode()).hexdigest()[:16]
