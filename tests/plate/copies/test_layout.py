from __future__ import annotations

import numpy as np
import pytest

from wherestood.errors import PlateError
from wherestood.plate.copies.fit import WarpFit
from wherestood.plate.copies.layout import Laid, lay_copies
from wherestood.plate.copies.registration import Registration
from wherestood.plate.copies.warp import Warp, frame_of
from wherestood.plate.copies.widest import widest_extent

SIZE = (400, 300)
FRAME = frame_of(*SIZE)
CORNERS = np.array([[0.0, 0.0], [400.0, 0.0], [400.0, 300.0], [0.0, 300.0]])


def shifted(x_px: float, y_px: float, sd_px: float = 0.5) -> Registration:
    """Return a registration that shifts a scan, with an error of this size."""
    half = FRAME.half_diagonal_px
    terms = np.array([1.0, 0.0, x_px / half, y_px / half])
    warp = Warp("similarity", terms, False, FRAME, FRAME)
    covariance = np.diag([0.0, 0.0, 1.0, 1.0]) * (sd_px / half) ** 2
    fit = WarpFit(warp, covariance, np.zeros((4, 2)), np.ones(4, bool), sd_px, 0.0)
    return Registration(warp, fit, False, 4, 0, 1.0, CORNERS)


def test_errors_add_along_a_chain_of_pieces() -> None:
    # Three pieces side by side: 300, 400 and then 3-4-5.
    laid = lay_copies(
        "left",
        {
            ("middle", "left"): shifted(390.0, 0.0, 3.0),
            ("middle", "right"): shifted(-395.0, 0.0, 4.0),
        },
    )
    points, covariance = laid["right"].carry(np.array([[10.0, 20.0]]))
    np.testing.assert_allclose(points, [[795.0, 20.0]])
    np.testing.assert_allclose(covariance[0], np.eye(2) * 25.0, atol=1e-9)
    assert laid["right"].error_px == pytest.approx(5.0)
    back, _ = laid["right"].carry_back(points)
    np.testing.assert_allclose(back, [[10.0, 20.0]])


def test_the_surer_way_counts() -> None:
    laid = lay_copies(
        "a",
        {
            ("c", "a"): shifted(10.0, 0.0, 6.0),
            ("b", "a"): shifted(5.0, 0.0, 1.0),
            ("c", "b"): shifted(6.0, 0.0, 1.0),
        },
    )
    points, _ = laid["c"].carry(np.array([[0.0, 0.0]]))
    np.testing.assert_allclose(points, [[11.0, 0.0]])


def test_a_scan_that_nothing_joins_is_absent() -> None:
    assert set(lay_copies("a", {("c", "d"): shifted(1.0, 1.0)})) == {"a"}


def test_widest_extent_reaches_beyond_the_reference() -> None:
    laid = lay_copies("a", {("b", "a"): shifted(-100.0, 50.0)})
    extent = widest_extent({"a": SIZE, "b": SIZE}, laid)
    assert (extent.left_px, extent.top_px) == pytest.approx((-100.0, 0.0))
    assert (extent.right_px, extent.bottom_px) == pytest.approx((400.0, 350.0))
    np.testing.assert_allclose(extent.outlines_px["b"][0], [-100.0, 50.0])


def test_a_map_that_draws_a_scan_out_beyond_reason_is_refused() -> None:
    registration = shifted(0.0, 0.0)
    terms = np.array([1.0, 0, 0, 0, 1.0, 0, -0.999, -0.999])
    wild = Warp("projective", terms, False, FRAME, FRAME)
    fit = WarpFit(wild, np.eye(8), np.zeros((4, 2)), np.ones(4, bool), 1.0, 0.0)
    bad = Registration(wild, fit, False, 4, 0, 1.0, registration.held_px)
    laid = {"a": Laid((), 0.0), "b": Laid(((bad, False),), 1.0)}
    with pytest.raises(PlateError, match="beyond all bounds"):
        widest_extent({"a": SIZE, "b": SIZE}, laid)
