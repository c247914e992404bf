"""Give the tests of old plans their invented sheets."""

from __future__ import annotations

import importlib.util
import sys
from pathlib import Path
from types import ModuleType

import pytest


@pytest.fixture(scope="session")
def sheets() -> ModuleType:
    """Return the module that draws sheets of known warp."""
    path = Path(__file__).parent / "invented_sheets.py"
    spec = importlib.util.spec_from_file_location(path.stem, path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    # A frozen dataclass looks its own module up while it is made.
    sys.modules[path.stem] = module
    spec.loader.exec_module(module)
    return module
