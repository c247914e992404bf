"""Check what two readers' tracings of one skyline tell of its doubt."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from wherestood.errors import SkylineError
from wherestood.plate.skyline import Skyline
from wherestood.plate.two_tracings import compare_tracings

WIDTH_PX, HEIGHT_PX = 4000, 3000
ERROR_PX = 5.0
GIVEN_PX = 1.0
#: Readers' errors hang together over this much.
TOGETHER_PX = 8


def reader(seed: int, error_px: float = ERROR_PX) -> Skyline:
    """Return a reading of one line with errors of a known size."""
    x = np.arange(10.5, WIDTH_PX - 10.0, 2.0)
    generator = np.random.default_rng(seed)
    wander = np.convolve(
        generator.normal(size=x.size + TOGETHER_PX - 1), np.ones(TOGETHER_PX), "valid"
    ) / np.sqrt(TOGETHER_PX)
    return Skyline(
        x,
        1200.0 + 200.0 * np.sin(x / 500.0) + error_px * wander,
        np.full(x.size, GIVEN_PX),
        WIDTH_PX,
        HEIGHT_PX,
        np.zeros(x.size, dtype=bool),
    )


def test_the_doubt_grows_by_what_readers_err() -> None:
    found = compare_tracings(reader(1), reader(2))
    expected = np.hypot(GIVEN_PX, ERROR_PX)
    # Of some 500 independent stretches: 5% is over two standard errors.
    assert np.sqrt(np.mean(found.skyline.sd_px**2)) == pytest.approx(expected, rel=0.1)
    assert found.typical_px == pytest.approx(np.sqrt(2.0) * ERROR_PX, rel=0.1)


def test_where_readers_agree_the_doubt_stays_as_given() -> None:
    one = reader(1, 0.0)
    found = compare_tracings(one, one)
    np.testing.assert_allclose(found.skyline.sd_px, GIVEN_PX, rtol=1e-6)
    assert found.typical_px == 0.0
    assert found.apart == ()


def test_the_doubt_is_large_only_where_they_part() -> None:
    one = reader(1, 0.0)
    raised = np.where((one.x_px > 1000.0) & (one.x_px < 1400.0), 40.0, 0.0)
    found = compare_tracings(one, replace(one, y_px=one.y_px - raised))
    (columns,) = found.apart
    assert columns == pytest.approx((1000.0, 1400.0), abs=5.0)
    x, sd = found.skyline.x_px, found.skyline.sd_px
    assert sd[(x > 1100.0) & (x < 1300.0)].min() > 25.0
    assert sd[x > 2000.0].max() < 1.01 * GIVEN_PX
    assert found.greatest_px == pytest.approx(40.0)
    middle = np.interp(1200.0, x, found.skyline.y_px)
    assert middle == pytest.approx(
        np.interp(1200.0, one.x_px, one.y_px) - 20.0, abs=0.1
    )
    assert "Look again at columns 1000 to 1398." in found.words()


def test_what_one_reader_alone_traced_is_kept_with_the_usual_doubt() -> None:
    one, other = reader(1), reader(2)
    half = other.x_px < 2000.0
    part = replace(
        other,
        x_px=other.x_px[half],
        y_px=other.y_px[half],
        sd_px=other.sd_px[half],
        break_after=other.break_after[half],
    )
    found = compare_tracings(one, part)
    assert found.shared == pytest.approx(0.5, abs=0.01)
    assert found.only_one == pytest.approx(0.5, abs=0.01)
    right = found.skyline.x_px > 2100.0
    expected = np.hypot(GIVEN_PX, found.typical_px / np.sqrt(2.0))
    np.testing.assert_allclose(found.skyline.sd_px[right], expected, rtol=1e-6)


def test_gaps_that_both_left_stay_gaps() -> None:
    def gapped(line: Skyline) -> Skyline:
        kept = (line.x_px < 1500.0) | (line.x_px > 1700.0)
        x = line.x_px[kept]
        return replace(
            line,
            x_px=x,
            y_px=line.y_px[kept],
            sd_px=line.sd_px[kept],
            break_after=np.append(np.diff(x) > 3.0, False),
        )

    joined = compare_tracings(gapped(reader(1)), gapped(reader(2))).skyline
    assert not ((joined.x_px > 1503.0) & (joined.x_px < 1697.0)).any()
    assert joined.break_after.sum() == 1


def test_tracings_of_other_scans_or_other_stretches_are_refused() -> None:
    one = reader(1)
    with pytest.raises(SkylineError, match="different sizes"):
        compare_tracings(one, replace(one, width_px=WIDTH_PX + 1))
    far = replace(one, x_px=one.x_px * 0.02)
    with pytest.raises(SkylineError, match="share"):
        compare_tracings(far, one)
