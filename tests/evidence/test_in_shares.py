"""Check that work shared among threads is all done, once."""

import numba
import numpy as np
import pytest

from wherestood.evidence.in_shares import in_shares


@pytest.fixture(params=[1, 2, 3])
def threads(request, monkeypatch):
    monkeypatch.setattr(numba, "get_num_threads", lambda: request.param)


@pytest.mark.usefixtures("threads")
@pytest.mark.parametrize("count", [0, 1, 2, 7, 100])
def test_every_station_is_done_once(count):
    done = np.zeros(count, dtype=int)

    def work(begin, past):
        done[begin:past] += 1

    in_shares(work, count)
    assert (done == 1).all()


@pytest.mark.usefixtures("threads")
def test_an_error_in_one_share_is_not_lost():
    def work(begin, past):
        if begin <= 60 < past:
            raise ValueError("station 60")

    with pytest.raises(ValueError, match="station 60"):
        in_shares(work, 100)
