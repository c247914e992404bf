"""Check that steps between models are measured, mended where small, refused else."""

import numpy as np
import pytest
from rasterio import Affine

from wherestood.errors import TerrainError
from wherestood.terrain import open_terrain
from wherestood.terrain.seams import lay_under, measure_step

ONE_CENTIMETRE = 0.01
# The mean of 10 000 nodes with a noise of 2 m.
NOISE_OF_A_MEDIAN_M = 4 * 1.25 * 2.0 / 100.0
# sd = 1.4826 median absolute deviations of a normal distribution.
SD_PER_MAD = 1.4826


def _ground(rng: np.random.Generator, noise_m: float = 0.0) -> np.ndarray:
    rows, columns = np.mgrid[0:100, 0:100]
    ground = 500.0 + 100.0 * np.sin(rows / 9.0) + 3.0 * columns
    return (ground + rng.normal(0.0, noise_m, ground.shape)).astype(np.float32)


def _lay(finer: np.ndarray, coarser: np.ndarray, **cells: float) -> tuple[str, ...]:
    sizes = {"cell_m": 10.0, "coarser_cell_m": 20.0, **cells}
    return lay_under(finer, coarser, names=("fine", "coarse"), **sizes)


def test_step_is_the_median_and_scatter_of_the_difference() -> None:
    rng = np.random.default_rng(3)
    step = measure_step(_ground(rng), _ground(rng, 2.0) + np.float32(5.0), 1.0)
    assert step is not None
    assert step.median_m == pytest.approx(5.0, abs=NOISE_OF_A_MEDIAN_M)
    assert step.mad_m * SD_PER_MAD == pytest.approx(2.0, rel=0.05)
    assert step.nodes == 10_000
    assert step.removed_m == step.median_m


def test_step_within_its_noise_is_left_alone() -> None:
    rng = np.random.default_rng(4)
    step = measure_step(_ground(rng), _ground(rng, 8.0) + np.float32(1.0), 10.0)
    assert step is not None
    assert step.removed_m == 0.0


def test_no_common_ground_is_no_step() -> None:
    finer, coarser = (
        _ground(np.random.default_rng(1)),
        _ground(np.random.default_rng(1)),
    )
    finer[:, 50:], coarser[:, :50] = np.nan, np.nan
    assert measure_step(finer, coarser, 1.0) is None
    notes = _lay(finer, coarser)
    assert notes[0].startswith("Warning: does not overlap fine")
    assert np.isfinite(finer).all()


def test_constant_is_taken_off_the_coarser_and_the_finer_stays() -> None:
    rng = np.random.default_rng(5)
    truth = _ground(rng)
    finer, coarser = truth.copy(), truth + np.float32(7.0)
    finer[:, 60:] = np.nan
    notes = " | ".join(_lay(finer, coarser))
    np.testing.assert_allclose(finer, truth, atol=ONE_CENTIMETRE)
    assert "median +7.00 m, median absolute deviation 0.00 m over 6000" in notes
    assert "moved by -7.00 m to meet fine" in notes


def test_seam_slides_over_a_narrow_band_alone() -> None:
    ripple = np.tile(np.where(np.arange(100) % 2 == 0, 0.5, -0.5), (20, 1))
    finer = np.full((20, 100), 100.0, dtype=np.float32)
    coarser = (100.0 + ripple).astype(np.float32)
    coarser[:, 45:] = 110.0
    finer[:, 50:] = np.nan
    notes = " | ".join(_lay(finer, coarser))
    profile = finer[10]
    # The median of the step is -0.5, 0 or 0.5: within its scatter, left alone.
    np.testing.assert_array_equal(profile[:46], 100.0)
    np.testing.assert_allclose(profile[46:50], [102.0, 104.0, 106.0, 108.0], rtol=1e-6)
    np.testing.assert_array_equal(profile[50:], 110.0)
    assert "seam smoothed over at most 40 m inside fine" in notes


def test_models_that_meet_exactly_need_no_seam() -> None:
    truth = _ground(np.random.default_rng(8))
    finer, coarser = truth.copy(), truth.copy()
    finer[:, 51:], coarser[:, :50] = np.nan, np.nan
    assert _lay(finer, coarser) == ("meets fine without a step over 100 nodes",)
    np.testing.assert_array_equal(finer, truth)


def test_seam_does_not_depend_on_the_strips_it_is_worked_in() -> None:
    rng = np.random.default_rng(6)
    tall = rng.normal(100.0, 1.0, (1200, 30)).astype(np.float32)
    coarser = rng.normal(100.0, 1.0, (1200, 30)).astype(np.float32)
    # The band of 20 rows reaches back over row 512, where one strip ends.
    tall[514:520, 10:20] = np.nan
    part, part_coarser = tall[450:580].copy(), coarser[450:580].copy()
    # No constant is significant at this noise and cell ratio.
    _lay(tall, coarser, coarser_cell_m=100.0)
    _lay(part, part_coarser, coarser_cell_m=100.0)
    np.testing.assert_array_equal(tall[475:555], part[25:105])


@pytest.mark.parametrize(
    ("change", "words", "cause"),
    [
        (lambda z: z + 48.0, "coarse stands +48.0 m", "vertical datums"),
        (lambda z: z / 0.3048, "where they overlap", "heights of coarse look like"),
        (lambda z: z * 0.3048, "where they overlap", "heights of fine look like"),
        (lambda z: z[::-1], "scatter", "differ"),
    ],
)
def test_step_beyond_two_models_of_one_ground_stops(change, words, cause) -> None:
    finer = _ground(np.random.default_rng(7))
    coarser = change(finer).astype(np.float32)
    with pytest.raises(TerrainError) as caught:
        _lay(finer.copy(), coarser.copy())
    assert words in caught.value.problem
    assert "expected at most 30 m" in caught.value.problem
    assert cause in caught.value.remedy


# --- through the door


def _plane(east: np.ndarray, north: np.ndarray) -> np.ndarray:
    return 600.0 + 0.1 * (east - 400_000.0) + 0.05 * (north - 5_200_000.0)


def _write_plane(write_raster, name: str, corner, cell: float, size: int, lift: float):
    west, top = corner
    at = (np.arange(size) + 0.5) * cell
    heights = _plane(west + at[None, :], top - at[:, None]) + lift
    transform = Affine(cell, 0.0, west, 0.0, -cell, top)
    return write_raster(name, heights.astype(np.float32), transform=transform)


def test_finer_model_lies_over_the_coarser_one(write_raster) -> None:
    coarse = _write_plane(
        write_raster, "coarse.tif", (398_000.0, 5_203_000.0), 90.0, 60, 6.0
    )
    fine = _write_plane(
        write_raster, "fine.tif", (400_000.0, 5_200_990.0), 10.0, 100, 0.0
    )
    for order in ([coarse, fine], [fine, coarse]):
        terrain = open_terrain(order)
        assert [s.path for s in terrain.sources] == [str(fine), str(coarse)]
        assert terrain.source_cell_m == pytest.approx(10.0, rel=1e-3)
        rows, columns = terrain.elevation_m.shape
        east = terrain.west_m + np.arange(columns) * terrain.cell_m
        north = terrain.south_m + np.arange(rows) * terrain.cell_m
        lon, lat = terrain.frame.to_lonlat(*np.meshgrid(east, north))
        import pyproj

        utm = pyproj.Transformer.from_crs(4326, 32632, always_xy=True)
        expected = _plane(*utm.transform(lon, lat))
        known = np.isfinite(terrain.elevation_m)
        assert known.mean() > 0.9
        # The lift of 6 m is gone everywhere, seam included.
        np.testing.assert_allclose(
            terrain.elevation_m[known], expected[known], atol=ONE_CENTIMETRE
        )
        notes = " | ".join(terrain.sources[1].notes)
        assert "median +6.00 m" in notes
        assert "moved by -6.00 m" in notes


def test_heights_in_feet_without_a_label_are_found_out_by_a_second_model(
    write_raster,
) -> None:
    metres = _write_plane(
        write_raster, "metres.tif", (400_000.0, 5_200_990.0), 10.0, 100, 0.0
    )
    feet = metres.with_name("feet.tif")
    import rasterio

    with rasterio.open(metres) as source:
        profile, heights = source.profile, source.read(1)
    profile["transform"] = Affine(10.0, 0.0, 400_005.0, 0.0, -10.0, 5_200_985.0)
    with rasterio.open(feet, "w", **profile) as target:
        target.write((heights / 0.3048).astype(np.float32), 1)
    with pytest.raises(TerrainError, match="look like feet with no unit stated"):
        open_terrain([metres, feet])
