"""Write a fix in its published form, ``fix.json``.

The form is described by ``fix.schema.json`` (JSON Schema, draft 2020-12).
"""

from __future__ import annotations

import json
from functools import cache
from importlib.resources import files
from pathlib import Path, PurePath
from typing import Any

import jsonschema
import numpy as np
import shapely
from shapely.geometry import MultiPolygon, Polygon, mapping

from wherestood.errors import InputError
from wherestood.fix.result import Fix
from wherestood.plate.skyline import Skyline
from wherestood.record.atomic import write_text_atomically
from wherestood.record.camera_json import LONLAT_DECIMALS, camera_form, station_form
from wherestood.record.changed_ground import changed_ground_form
from wherestood.record.checks_json import checks_form, left_out_form, proposed_form
from wherestood.record.draws_json import draws_form
from wherestood.record.inputs import FixInputs, Making
from wherestood.record.plain import plain, rounded
from wherestood.record.uncounted import uncounted
from wherestood.terrain.model import Terrain

__all__ = ["FORM", "fix_schema", "fix_to_json", "read_fix", "skyline_gaps", "write_fix"]

FORM = 1  # raised when a reader of the older form could misread the newer


def fix_to_json(fix: Fix, inputs: FixInputs, making: Making) -> dict[str, Any]:
    """Return the published form of a fix.

    Parameters
    ----------
    fix : Fix
        The answer.
    inputs : FixInputs
        What it was made from; only file names and checksums go out, no folders.
    making : Making
        When and by what version it is written.
    """
    form: dict[str, Any] = {
        "wherestood": FORM,
        "plate": PurePath(str(inputs.plate.path)).stem,
        "verdict": fix.verdict,
        "near_enough_m": rounded(fix.near_enough_m, 2),
        "near_enough_share": rounded(fix.near_enough_share, 6),
        "station": station_form(fix.station),
        "camera": camera_form(fix.camera),
        "regions": _regions(fix.regions),
        "elsewhere": rounded(fix.elsewhere, 6),
        "alternatives": [
            {
                "station": station_form(other.station),
                "camera": camera_form(other.camera),
                "probability": rounded(other.probability, 6),
            }
            for other in fix.alternatives
        ],
        "fit": {
            "rms_px": rounded(fix.rms_px, 3),
            "chance": plain(float(fix.chance)),
            "evidence": plain(fix.evidence),
        },
        "left_out": [left_out_form(one) for one in fix.left_out],
        "checks": checks_form(fix),
        "proposed": [proposed_form(one) for one in fix.proposed],
        "changed_ground": changed_ground_form(fix, inputs),
        "reasons": list(fix.reasons),
        "terrain": _terrain(inputs),
        "inputs": _inputs(fix, inputs),
        "settings": plain(inputs.settings),
        "assumptions": plain(fix.assumptions),
        "timing_s": plain(fix.timing_s),
        "made": making.made,
        "version": making.version,
        "decision": None,
    }
    if fix.draws is not None:
        form["draws"] = draws_form(fix.draws, inputs.terrain.frame)
    return form


def write_fix(
    path: Path | str, fix: Fix, inputs: FixInputs, making: Making
) -> dict[str, Any]:
    """Write ``fix.json`` whole or not at all, and return what was written."""
    form = fix_to_json(fix, inputs, making)
    jsonschema.validate(form, fix_schema(), cls=jsonschema.Draft202012Validator)
    text = json.dumps(form, indent=1, ensure_ascii=False, allow_nan=False)
    write_text_atomically(Path(path), text + "\n")
    return form


def read_fix(path: Path | str) -> dict[str, Any]:
    """Read ``fix.json`` and check it against its schema.

    Raises
    ------
    InputError
        If the file cannot be read, is not JSON, or is not a fix.
    """
    name = Path(path).name
    try:
        form: dict[str, Any] = json.loads(Path(path).read_text(encoding="utf-8"))
    except OSError as error:
        raise InputError(
            f"The fix {str(path)!r} cannot be read ({error.strerror}).",
            "Name a fix.json file.",
        ) from error
    except ValueError as error:
        raise InputError(
            f"The file {name!r} is not JSON: {error}.", "Name a fix.json file."
        ) from error
    validator = jsonschema.Draft202012Validator(fix_schema())
    trouble = jsonschema.exceptions.best_match(validator.iter_errors(form))
    if trouble is not None:
        raise InputError(
            f"The file {name!r} is not a fix in form {FORM}: at "
            f"{trouble.json_path}, {trouble.message[:200]}.",
            "Name a fix.json file written by this program.",
        )
    return form


@cache
def fix_schema() -> dict[str, Any]:
    """Return the JSON Schema of ``fix.json``."""
    text = files("wherestood.record").joinpath("fix.schema.json").read_text("utf-8")
    schema: dict[str, Any] = json.loads(text)
    return schema


def _regions(regions: dict[float, MultiPolygon]) -> dict[str, Any]:
    return {
        "type": "FeatureCollection",
        "features": [
            {
                "type": "Feature",
                "properties": {"probability": probability},
                "geometry": _geometry(region),
            }
            for probability, region in sorted(regions.items())
        ],
    }


def _multi(shape: Polygon | MultiPolygon) -> MultiPolygon:
    whole = MultiPolygon([shape]) if isinstance(shape, Polygon) else shape
    oriented: MultiPolygon = shapely.orient_polygons(whole, exterior_cw=False)
    return oriented


def _geometry(shape: Polygon | MultiPolygon) -> dict[str, Any]:
    """Return RFC 7946 geometry: right-hand rings, at most seven decimals."""
    if not shape.is_valid:  # pieces that overlap become one
        shape = shapely.union_all(shapely.make_valid(shapely.get_parts(shape)))
    # Rounding alone could make a thin ring cross itself.
    snapped = shapely.set_precision(shape, 10.0**-LONLAT_DECIMALS)
    if isinstance(snapped, Polygon):
        snapped = MultiPolygon([] if snapped.is_empty else [snapped])
    oriented = shapely.orient_polygons(snapped, exterior_cw=False)
    geometry: dict[str, Any] = mapping(oriented)
    return {"type": geometry["type"], "coordinates": _round(geometry["coordinates"])}


def _round(coordinates: Any) -> Any:
    if isinstance(coordinates, float | int):
        return round(float(coordinates), LONLAT_DECIMALS)
    return [_round(part) for part in coordinates]


def _terrain(inputs: FixInputs) -> dict[str, Any]:
    terrain = inputs.terrain
    datums = sorted({source.vertical_datum for source in terrain.sources})
    return {
        "surface": terrain.surface,
        "vertical_datum": ", ".join(datums) if datums else "unknown",
        "cell_m": rounded(terrain.cell_m, 3),
        "source_cell_m": rounded(terrain.source_cell_m, 3),
        "grid": terrain.frame.crs,
        "grid_scale": terrain.frame.scale,
        "refraction": terrain.refraction,
        "extent_m": _extent_m(terrain),
        "sources": [
            {
                "file": PurePath(source.path).name,
                "sha256": source.sha256,
                "crs": source.crs,
                "cell_m": rounded(source.cell_m, 3),
                "vertical_datum": source.vertical_datum,
                "notes": list(source.notes),
            }
            for source in terrain.sources
        ],
    }


def _extent_m(terrain: Terrain) -> list[float]:
    rows, columns = terrain.elevation_m.shape
    east_m = terrain.west_m + (columns - 1) * terrain.cell_m
    north_m = terrain.south_m + (rows - 1) * terrain.cell_m
    edges_m = (terrain.west_m, terrain.south_m, east_m, north_m)
    return [round(float(edge_m), 3) for edge_m in edges_m]


def _inputs(fix: Fix, inputs: FixInputs) -> dict[str, Any]:
    plate, area = inputs.plate, inputs.area
    return {
        "scan": {
            "file": PurePath(str(plate.path)).name,
            "sha256": plate.sha256,
            "page": int(plate.image.page),
            "width_px": int(plate.width_px),
            "height_px": int(plate.height_px),
            "size_mm": plain(plate.size_mm),
            "px_per_mm": plain(plate.px_per_mm),
            "trimmed": bool(plate.trimmed),
            "negative": bool(plate.negative),
            "reversed": bool(plate.reversed),
            "corners_px": plain(plate.corners_px),
            "notes": list(plate.notes),
        },
        "skyline": _skyline(inputs),
        "evidence": _evidence(fix, inputs),
        "ground_searched": {
            "source": area.source,
            "size_km2": rounded(area.size_km2, 4),
            # As it was, unrounded: a grid laid over it starts from its corners.
            "geometry": plain(mapping(_multi(area.polygon))),
        },
    }


def _skyline(inputs: FixInputs) -> dict[str, Any]:
    skyline, kept = inputs.skyline, inputs.skyline_file
    return {
        "source": PurePath(skyline.source).name,
        "file": kept.name if kept else None,
        "sha256": kept.sha256 if kept else None,
        "samples": len(skyline.x_px),
        "gaps_px": [[round(a, 2), round(b, 2)] for a, b in skyline_gaps(skyline)],
        "traced_blind": bool(skyline.blind),
        "notes": list(skyline.notes),
    }


def _evidence(fix: Fix, inputs: FixInputs) -> dict[str, Any]:
    """Return the file of all evidence but traced lines, and what did not count."""
    kept = inputs.evidence_file
    return {
        "file": kept.name if kept else None,
        "sha256": kept.sha256 if kept else None,
        "counted_nothing": [
            {"id": item.name, "why": item.why} for item in uncounted(fix, inputs)
        ],
        "complaints": [
            {
                "kind": one.kind,
                "id": one.item,
                "problem": one.problem,
                "left_out": one.dropped,
            }
            for one in inputs.complaints
        ],
    }


def skyline_gaps(skyline: Skyline) -> list[tuple[float, float]]:
    """Return the stretches of the scan's width without skyline, from and to [px].

    The ends of the scan count where the line does not reach them.
    """
    x_px = np.asarray(skyline.x_px, dtype=np.float64)
    if x_px.size == 0:
        return [(0.0, float(skyline.width_px))]
    usual_px = float(np.median(np.diff(x_px))) if x_px.size > 1 else 1.0
    after = np.flatnonzero(skyline.break_after[:-1])
    gaps = [(float(x_px[i]), float(x_px[i + 1])) for i in after]
    if x_px[0] > 2 * usual_px:
        gaps.insert(0, (0.0, float(x_px[0])))
    if skyline.width_px - x_px[-1] > 2 * usual_px:
        gaps.append((float(x_px[-1]), float(skyline.width_px)))
    return gaps
