"""Answer ``wherestood trace``."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import numpy as np
import typer

from wherestood.cli.arguments import read_point
from wherestood.cli.options import AsJson, Negative, ScanPath
from wherestood.cli.screen import say, say_json, say_written, stages, warn

if TYPE_CHECKING:
    from wherestood.plate.scan import Plate
    from wherestood.plate.skyline import Skyline

__all__ = ["trace", "traced"]


def trace(
    scan: ScanPath,
    through: Annotated[
        list[str] | None,
        typer.Option(metavar="X,Y", help="A point the skyline passes; repeatable."),
    ] = None,
    negative: Negative = None,
    out: Annotated[
        Path | None,
        typer.Option(metavar="DIR", help="Folder for skyline.csv and skyline.png."),
    ] = None,
    json: AsJson = False,
) -> None:
    """Trace the skyline of a scan, with gaps where nothing honest shows."""
    from wherestood.plate.scan import Plate

    points = [read_point(text) for text in through or ()]
    plate = Plate.open(scan, negative=negative)
    for note in plate.notes:
        warn(f"Note: {note}")
    skyline = traced(plate, points)
    files = _write(out, plate, skyline) if out else []
    summary = _summary(plate, skyline)
    if json:
        say_json({**summary, "files": [path.name for path in files]})
        return
    say(
        f"Skyline traced over {100 * summary['share']:.0f}% of the width, "
        f"give or take {summary['typical_sd_px']:.1f} px."
    )
    for start, end in summary["gaps_px"]:
        say(f"  gap from {start:.0f} to {end:.0f} px")
    say_written(files)
    if not files:
        say("Give --out DIR to keep it.")


def traced(plate: Plate, through: list[tuple[float, float]] | None = None) -> Skyline:
    """Trace a skyline, showing progress."""
    from wherestood.plate.trace import trace_skyline

    with stages() as shown:
        return trace_skyline(plate, seeds=through or (), progress=shown)


def _summary(plate: Plate, skyline: Skyline) -> dict[str, Any]:
    from wherestood.record.fix_json import skyline_gaps

    gaps = skyline_gaps(skyline)
    missing_px = sum(end - start for start, end in gaps)
    return {
        "scan": Path(plate.path).name,
        "width_px": skyline.width_px,
        "height_px": skyline.height_px,
        "samples": len(skyline.x_px),
        "share": round(1 - missing_px / skyline.width_px, 4),
        "typical_sd_px": round(float(np.median(skyline.sd_px)), 3),
        "gaps_px": [[round(start, 2), round(end, 2)] for start, end in gaps],
        "notes": list(skyline.notes),
    }


def _write(out: Path, plate: Plate, skyline: Skyline) -> list[Path]:
    from wherestood.plate.skyline import write_skyline_csv
    from wherestood.record.atomic import folder_at_the_end
    from wherestood.record.traced import traced_figure

    with folder_at_the_end(out) as passing:
        write_skyline_csv(skyline, passing / "skyline.csv")
        traced_figure(plate, skyline).savefig(passing / "skyline.png")
    return [out / "skyline.csv", out / "skyline.png"]
