from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from wherestood.errors import PlateError
from wherestood.plate.copies.record import registration_as_json, registration_of
from wherestood.plate.copies.register import Picture, register


def test_a_registration_carries_the_same_once_read_again(
    invented_pair: Callable[..., Any],
) -> None:
    pair = invented_pair(3, width_px=320, height_px=240, tilt_deg=10.0, mirrored=True)
    both = [Picture(g, g.shape[1], g.shape[0]) for g in (pair.copy, pair.reference)]
    found = register(*both)
    assert found is not None
    again = registration_of(json.loads(json.dumps(registration_as_json(found))))
    marks = np.array([[30.0, 40.0], [200.0, 100.0]])
    for one, same in zip(found.carry(marks), again.carry(marks), strict=True):
        np.testing.assert_array_equal(one, same)


@pytest.mark.parametrize("record", [{}, {"form": 2}, {"form": 1, "kind": "bent"}])
def test_a_record_that_is_none_is_refused(record: dict[str, Any]) -> None:
    with pytest.raises(PlateError, match="Register it again"):
        registration_of(record)
