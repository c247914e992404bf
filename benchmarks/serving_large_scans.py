"""Measure how a scan of 400 megapixels is served: first view, pieces, memory.

A scan of 20 000 x 20 000 px is invented (grain over a tone that falls), written as most
scanners do, in packed lines. A server of its own process then makes it ready to be
looked at, as it does when a scan is taken in, and serves the first view and pieces all
over it, with the browser's cache left out. Memory is the greatest resident size of the
server. Run::

    python benchmarks/serving_large_scans.py [SIDE_PX]
"""

from __future__ import annotations

import json
import multiprocessing
import resource
import sys
import tempfile
import threading
import time
from pathlib import Path
from typing import Any

import httpx
import numpy as np
import pyvips

SIDE_PX = 20_000
PIECES = 60
TILE_PX = 512


def invent_scan(path: Path, side_px: int) -> None:
    """Write a grey scan of a side [px]."""
    fall = pyvips.Image.xyz(side_px, side_px)[1] * (150.0 / side_px) + 50.0
    grain = pyvips.Image.gaussnoise(side_px, side_px, sigma=12, mean=0)
    image = (fall + grain).cast("uchar").copy(interpretation="b-w")
    image.tiffsave(str(path), compression="deflate", predictor="horizontal")


def serve(folder: str, port_told: Any, memory: Any, stop: Any) -> None:
    """Serve a daybook until told to stop; tell the port and the memory used."""
    import uvicorn

    from wherestood.server.app import make_app
    from wherestood.server.desk import Desk
    from wherestood.server.serve import listen

    desk = Desk("benchmark", Path(folder).parent / "passing")
    desk.open(Path(folder))
    with listen(0) as listening:
        server = uvicorn.Server(uvicorn.Config(make_app(desk), log_level="error"))
        thread = threading.Thread(target=server.run, args=([listening],))
        thread.start()
        port_told.put(listening.getsockname()[1])
        stop.wait()
        memory.put(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024.0)
        server.should_exit = True
        thread.join()


def measure(side_px: int) -> dict[str, float]:
    """Return times [s] and memory [MB]."""
    from wherestood.daybook import Daybook
    from wherestood.daybook.originals import take_in

    with tempfile.TemporaryDirectory() as passing:
        scan = Path(passing) / "large.tif"
        invent_scan(scan, side_px)
        folder = Path(passing) / "daybook"
        with Daybook.create(folder) as book:
            take_in(book, "large", scan, "benchmark", new_plate={})
        spawn = multiprocessing.get_context("spawn")
        port_told, memory, stop = spawn.Queue(), spawn.Queue(), spawn.Event()
        process = spawn.Process(
            target=serve, args=(str(folder), port_told, memory, stop)
        )
        process.start()
        told = _asked(port_told.get(), side_px)
        stop.set()
        told["server_mb"] = memory.get()
        process.join()
    return told


def _asked(port: int, side_px: int) -> dict[str, float]:
    address = f"http://127.0.0.1:{port}"
    with httpx.Client(base_url=address, timeout=600.0) as client:
        scan_id = client.get("/api/plates").json()["cards"][0]["scan_id"]
        image = f"/iiif/3/{scan_id}"
        ready_s = _timed(client, f"{image}/info.json")
        first_s = _timed(client, f"{image}/info.json")
        first_s += _timed(client, f"{image}/full/!1024,1024/0/default.jpg")
        rng = np.random.default_rng(1)
        pieces_s = []
        for _ in range(PIECES):
            factor = int(2 ** rng.integers(0, 5))
            wide = TILE_PX * factor
            left, top = (int(rng.integers(0, side_px - wide)) for _ in range(2))
            piece = f"{image}/{left},{top},{wide},{wide}/{TILE_PX},/0/default.jpg"
            pieces_s.append(_timed(client, piece))
    return {
        "made_ready_s": ready_s,
        "first_view_s": first_s,
        "piece_median_ms": 1000.0 * float(np.median(pieces_s)),
        "piece_95_of_100_ms": 1000.0 * float(np.percentile(pieces_s, 95)),
    }


def _timed(client: httpx.Client, path: str) -> float:
    began = time.perf_counter()
    client.get(path).raise_for_status()
    return time.perf_counter() - began


if __name__ == "__main__":
    side = int(sys.argv[1]) if len(sys.argv) > 1 else SIDE_PX
    print(json.dumps({k: round(v, 2) for k, v in measure(side).items()}, indent=1))
