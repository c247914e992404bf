"""Horizons kept for cells that are scored again."""

from __future__ import annotations

import numpy as np

from wherestood.evidence.profile import Profiles
from wherestood.fix import kept_profiles
from wherestood.fix.kept_profiles import KeptProfiles

#: Half the digits of what was made [no unit].
HALF_PRECISION = 1e-7


def made(rng: np.random.Generator, count: int) -> Profiles:
    return Profiles(
        rng.uniform(0.1, 1e4, (count, 12, 5)), rng.normal(size=count), rng.random(count)
    )


def test_horizons_come_back_as_they_were_made_in_the_cells_order() -> None:
    rng = np.random.default_rng(3)
    parts = [made(rng, count) for count in (5, 1, 7)]
    kept = KeptProfiles()
    for part in parts:
        kept.add(part)
    assert kept.count == 13
    which = np.array([0, 4, 5, 6, 12])
    back = kept.of(which)
    whole = np.concatenate([part.table for part in parts])
    np.testing.assert_allclose(back.table, whole[which], rtol=HALF_PRECISION)
    assert back.table.dtype == np.float64
    ground = np.concatenate([part.ground_m for part in parts])
    np.testing.assert_array_equal(back.ground_m, ground[which])


def test_what_finds_no_room_is_not_kept_nor_what_comes_after(monkeypatch) -> None:
    rng = np.random.default_rng(4)
    monkeypatch.setattr(kept_profiles, "MOST_BYTES", 4 * 12 * 5 * 10)
    kept = KeptProfiles()
    for count in (6, 5, 1):
        kept.add(made(rng, count))
    # The last would fit, but would stand where the second should.
    assert kept.count == 6
