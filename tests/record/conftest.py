"""Offer the invented scene to the tests of the record."""

from __future__ import annotations

import importlib.util
from pathlib import Path
from types import ModuleType

import pytest


@pytest.fixture(scope="session")
def scene() -> ModuleType:
    """Return the module that makes invented fixes."""
    path = Path(__file__).with_name("scene.py")
    spec = importlib.util.spec_from_file_location("invented_scene", path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module
