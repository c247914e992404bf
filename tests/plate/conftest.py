"""Offer invented plates to the tests of the trace."""

from __future__ import annotations

import importlib.util
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

_NAME = "invented_plates"


@pytest.fixture(scope="session")
def paint() -> Callable[..., Any]:
    """Return the function that paints a plate whose skyline is known."""
    path = Path(__file__).with_name("invented_plates.py")
    spec = importlib.util.spec_from_file_location(_NAME, path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    # A dataclass looks its module up while it is made.
    sys.modules[_NAME] = module
    spec.loader.exec_module(module)
    return module.paint
