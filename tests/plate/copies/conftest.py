"""Offer invented pairs of scans to the tests of registering."""

from __future__ import annotations

import importlib.util
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

_NAME = "invented_pairs"


@pytest.fixture(scope="session")
def invented_pair() -> Callable[..., Any]:
    """Return the function that makes two scans whose map is known."""
    path = Path(__file__).with_name(f"{_NAME}.py")
    spec = importlib.util.spec_from_file_location(_NAME, path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    # A dataclass looks its module up while it is made.
    sys.modules[_NAME] = module
    spec.loader.exec_module(module)
    return module.invented_pair
