"""Keep horizons once made, for cells that are scored again."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from wherestood.evidence.profile import Profiles

__all__ = ["MOST_BYTES", "KeptProfiles"]

#: Horizons are kept up to this much memory, those made first; the rest is made again.
MOST_BYTES = 200_000_000


class KeptProfiles:
    """Horizons of cells, in the cells' order, in half the memory they are made in.

    Half precision of a tangent, 1e-8, is a thousandth of what a scan shows.
    """

    def __init__(self) -> None:
        self._tables: list[NDArray[np.float32]] = []
        self._ground_m: list[NDArray[np.float64]] = []
        self._ground_sd_m: list[NDArray[np.float64]] = []
        self._first: list[int] = [0]
        self._bytes = 0

    def add(self, profiles: Profiles) -> None:
        """Keep the next cells' horizons, if there is room for all of them."""
        table = profiles.table.astype(np.float32)
        if self._bytes + table.nbytes > MOST_BYTES:
            # What comes after is not in order any more.
            self._bytes = MOST_BYTES
            return
        self._bytes += table.nbytes
        self._tables.append(table)
        self._ground_m.append(profiles.ground_m)
        self._ground_sd_m.append(profiles.ground_sd_m)
        self._first.append(self._first[-1] + len(table))

    @property
    def count(self) -> int:
        """Return how many cells' horizons are kept, the first ones."""
        return self._first[-1]

    def of(self, which: NDArray[np.int64]) -> Profiles:
        """Return the horizons of some of the cells that are kept.

        Parameters
        ----------
        which : (n,) int64 array
            In rising order, each less than ``count``.
        """
        part = np.searchsorted(self._first, which, side="right") - 1
        tables, ground, ground_sd = [], [], []
        for number in np.unique(part):
            at = which[part == number] - self._first[number]
            tables.append(self._tables[number][at].astype(np.float64))
            ground.append(self._ground_m[number][at])
            ground_sd.append(self._ground_sd_m[number][at])
        return Profiles(
            np.concatenate(tables), np.concatenate(ground), np.concatenate(ground_sd)
        )
