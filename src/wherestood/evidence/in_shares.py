"""Share work on many stations among threads."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor

import numba
import numpy as np

__all__ = ["in_shares"]

#: Shares a thread: some stations take longer than others.
SHARES = 4


def in_shares(work: Callable[[int, int], object], count: int) -> None:
    """Call work with the first station and the one past the last, for all of them.

    A kernel that lets go of the interpreter's lock runs on as many threads as numba was
    given. Numba's own parallel loops would do; those over large kernels take several
    times as long to compile.

    Parameters
    ----------
    work : callable
        Takes two ints; must bear being called from several threads at once.
    count : int
        How many stations there are.
    """
    threads = min(numba.get_num_threads(), count)
    if threads <= 1:
        work(0, count)
        return
    edges = np.linspace(0, count, min(count, threads * SHARES) + 1).astype(int).tolist()
    with ThreadPoolExecutor(threads) as pool:
        # Taken out one by one, so that an error is not lost.
        for _ in pool.map(work, edges[:-1], edges[1:]):
            pass
