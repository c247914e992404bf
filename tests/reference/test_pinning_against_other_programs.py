"""Maps from sheet to ground agree with other programs' on the same pins.

SOURCE: scikit-image (`skimage.transform`), GDAL (`from_gcps` of rasterio, and
`gdaltransform`) and OpenCV (`findHomography`), run here on invented pins.
scikit-image solves affine and projective maps by another measure than least leftovers
on the ground, so that with it the pins are exact.
"""

from __future__ import annotations

import subprocess

import cv2
import numpy as np
import pytest
import rasterio
import skimage.transform
from rasterio.control import GroundControlPoint
from scipy.optimize import least_squares

from wherestood.plans import Pins, pin_sheet

ONE_MICROMETRE = 1e-6
ONE_MILLIMETRE = 1e-3
#: A minimiser by differences stops where they drown in rounding.
A_TENTH_MILLIMETRE = 1e-4
PLACES = np.random.default_rng(3).uniform(0.0, 4000.0, (50, 2))


def pins(noise_m: float, count: int = 14) -> tuple[np.ndarray, np.ndarray]:
    rng = np.random.default_rng(9)
    sheet = rng.uniform(0.0, 4000.0, (count, 2))
    whole = (
        np.column_stack([sheet, np.ones(count)])
        @ np.array([[0.31, 0.04, 1200.0], [0.05, -0.29, 900.0], [1e-5, -2e-5, 1.0]]).T
    )
    ground = whole[:, :2] / whole[:, 2:]
    return sheet, ground + rng.normal(0.0, noise_m, (count, 2))


def ours(sheet: np.ndarray, ground: np.ndarray, kind: str) -> np.ndarray:
    held = Pins.of(sheet, ground, sheet_sd_px=0.0, ground_sd_m=2.0)
    return pin_sheet(held, kind, set_aside=False).to_ground(PLACES)  # type: ignore[arg-type]


def control_points(sheet: np.ndarray, ground: np.ndarray) -> list[GroundControlPoint]:
    return [
        GroundControlPoint(row=y, col=x, x=e, y=n)
        for (x, y), (e, n) in zip(sheet, ground, strict=True)
    ]


def test_similarity_agrees_with_scikit_image_on_noisy_pins() -> None:
    sheet, ground = pins(4.0)
    # Its similarity never mirrors: north is turned down as the sheet's y is.
    theirs = skimage.transform.SimilarityTransform.from_estimate(
        sheet, ground * [1.0, -1.0]
    )
    expected = theirs(PLACES) * [1.0, -1.0]
    assert np.abs(ours(sheet, ground, "similarity") - expected).max() < ONE_MICROMETRE


def test_affine_map_agrees_with_gdal_on_noisy_pins() -> None:
    sheet, ground = pins(4.0)
    theirs = rasterio.transform.from_gcps(control_points(sheet, ground))
    expected = np.column_stack(theirs @ (PLACES[:, 0], PLACES[:, 1]))
    assert np.abs(ours(sheet, ground, "affine") - expected).max() < ONE_MICROMETRE


@pytest.mark.parametrize(
    ("kind", "name", "count"),
    [("affine", "AffineTransform", 3), ("projective", "ProjectiveTransform", 4),
     ("projective", "ProjectiveTransform", 14)],
)  # fmt: skip
def test_straight_maps_agree_with_scikit_image_on_exact_pins(
    kind: str, name: str, count: int
) -> None:
    sheet, ground = pins(0.0, count)
    theirs = getattr(skimage.transform, name).from_estimate(sheet, ground)
    assert np.abs(ours(sheet, ground, kind) - theirs(PLACES)).max() < ONE_MICROMETRE


def test_projective_map_leaves_least_over_on_noisy_pins() -> None:
    """OpenCV stops a little above the least; a general minimiser goes on from there."""
    sheet, ground = pins(4.0)
    theirs, _ = cv2.findHomography(sheet, ground, 0)

    def left(terms: np.ndarray) -> np.ndarray:
        whole = np.append(terms * start, 1.0).reshape(3, 3)
        return (cv2.perspectiveTransform(sheet[None], whole)[0] - ground).ravel()

    start = theirs.ravel()[:8]
    found = least_squares(
        left, np.ones(8), method="trf", jac="3-point", x_scale="jac", xtol=1e-15,
        ftol=1e-15, gtol=1e-15,
    )  # fmt: skip
    least = np.append(found.x * start, 1.0).reshape(3, 3)
    expected = cv2.perspectiveTransform(PLACES[None], least)[0]
    apart = np.abs(ours(sheet, ground, "projective") - expected).max()
    assert apart < A_TENTH_MILLIMETRE
    assert (left(found.x) ** 2).sum() <= (left(np.ones(8)) ** 2).sum()


def test_bent_map_agrees_with_scikit_image() -> None:
    sheet, ground = pins(4.0)
    theirs = skimage.transform.ThinPlateSplineTransform.from_estimate(sheet, ground)
    # It adds a small number to every distance.
    apart = np.abs(ours(sheet, ground, "bending") - theirs(PLACES)).max()
    assert apart < ONE_MILLIMETRE


@pytest.mark.outside_program("gdaltransform")
@pytest.mark.parametrize(
    ("kind", "option"), [("bending", ["-tps"]), ("affine", ["-order", "1"])]
)
def test_maps_agree_with_gdaltransform_on_noisy_pins(
    kind: str, option: list[str]
) -> None:
    sheet, ground = pins(4.0)
    words = ["gdaltransform", *option]
    for place, there in zip(sheet, ground, strict=True):
        words += ["-gcp", *(repr(float(one)) for one in (*place, *there))]
    asked = "\n".join(f"{float(x)!r} {float(y)!r}" for x, y in PLACES)
    answer = subprocess.run(
        words, input=asked, capture_output=True, text=True, check=True
    )
    rows = [line.split()[:2] for line in answer.stdout.splitlines()]
    expected = np.array(rows, dtype=np.float64)
    assert np.abs(ours(sheet, ground, kind) - expected).max() < ONE_MICROMETRE
