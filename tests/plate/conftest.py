"""Offer invented plates, and pairs of scans, to the tests."""

from __future__ import annotations

import importlib.util
import sys
from collections.abc import Callable
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest


def _loaded(path: Path) -> ModuleType:
    spec = importlib.util.spec_from_file_location(path.stem, path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    # A dataclass looks its module up while it is made.
    sys.modules[path.stem] = module
    spec.loader.exec_module(module)
    return module


@pytest.fixture(scope="session")
def paint() -> Callable[..., Any]:
    """Return the function that paints a plate whose skyline is known."""
    return _loaded(Path(__file__).with_name("invented_plates.py")).paint


@pytest.fixture(scope="session")
def invented_pair() -> Callable[..., Any]:
    """Return the function that makes two scans whose map is known."""
    path = Path(__file__).parent / "copies" / "invented_pairs.py"
    return _loaded(path).invented_pair
