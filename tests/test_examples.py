"""Run the notebook that goes through a whole investigation.

All of it runs but two things, which have tests of their own: the invented plate is a
small one, and the search answers at once with the answer that belongs to it.
"""

from __future__ import annotations

import importlib.util
import json
from pathlib import Path
from types import ModuleType, SimpleNamespace
from typing import Any

import pytest
import rasterio
from affine import Affine

import wherestood.demo
from wherestood import notebook
from wherestood.record import comparison
from wherestood.record import map as drawn_map

COARSE = 30  # dots an inch
HEARTHS = """
wherestood = 1
[[feature]]
id = "hearth"
point = [{lon:.6f}, {lat:.6f}]
sd_m = 5
[[mark]]
id = "A"
feature = "hearth"
x_px = 700
y_px = 900
sd_px = 2
"""


@pytest.fixture(scope="module")
def scene() -> ModuleType:
    path = Path(__file__).parent / "record" / "scene.py"
    spec = importlib.util.spec_from_file_location("invented_scene_for_examples", path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def _files(scene: ModuleType, folder: Path, inputs: Any) -> SimpleNamespace:
    """Write what the demo writes, of the small scene."""
    land = inputs.terrain
    heights = land.elevation_m[::-1]
    cell, west, south = land.cell_m, land.west_m, land.south_m
    north = south + (heights.shape[0] - 0.5) * cell
    with rasterio.open(
        folder / "terrain.tif", "w", driver="GTiff", dtype="float32", count=1,
        height=heights.shape[0], width=heights.shape[1], crs=land.frame.crs,
        transform=Affine(cell, 0, west - cell / 2, 0, -cell, north),
    ) as file:  # fmt: skip
        file.write(heights, 1)
    west_deg, south_deg = scene.LON_DEG - 0.02, scene.LAT_DEG - 0.02
    east_deg, north_deg = scene.LON_DEG + 0.02, scene.LAT_DEG + 0.02
    ring = [[west_deg, south_deg], [east_deg, south_deg], [east_deg, north_deg],
            [west_deg, north_deg], [west_deg, south_deg]]  # fmt: skip
    area = {"type": "Polygon", "coordinates": [ring]}
    (folder / "area.geojson").write_text(json.dumps(area))
    told = HEARTHS.format(lon=scene.LON_DEG + 0.002, lat=scene.LAT_DEG + 0.002)
    (folder / "hearths.toml").write_text(told)
    return SimpleNamespace(
        plate=inputs.plate.path, terrain=folder / "terrain.tif",
        area=folder / "area.geojson", hearths=folder / "hearths.toml",
        plate_size="whole plate",
    )  # fmt: skip


def test_the_notebook_goes_from_a_scan_to_a_report(
    repository: Path, scene: ModuleType, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    fix, inputs = scene.scene(tmp_path)
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(notebook, "_search", lambda *_: fix)
    for module in (comparison, drawn_map):
        monkeypatch.setattr(module, "DPI", COARSE)  # nobody looks at these
    monkeypatch.setattr(
        wherestood.demo, "write_demo", lambda folder: _files(scene, folder, inputs)
    )
    told = json.loads((repository / "examples/investigation.ipynb").read_text("utf-8"))
    names: dict[str, Any] = {}
    for number, cell in enumerate(told["cells"]):
        if cell["cell_type"] == "code":
            source = "".join(cell["source"])
            exec(compile(source, f"cell {number}", "exec"), names)
    made = tmp_path / "investigation" / "report"
    assert "The camera stood within" in (made / "report.html").read_text("utf-8")
    assert (made / "report.pdf").read_bytes().startswith(b"%PDF")
    assert (tmp_path / "investigation" / "answer" / "fix.json").is_file()


def test_the_notebook_is_kept_without_outputs(repository: Path) -> None:
    told = json.loads((repository / "examples/investigation.ipynb").read_text("utf-8"))
    assert all(not cell.get("outputs") for cell in told["cells"])
