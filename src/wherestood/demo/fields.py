"""Draw smooth and fractal random fields on a grid."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy import fft as sp_fft
from scipy import ndimage

__all__ = ["fractal_field", "smooth_field", "smooth_line"]


def smooth_field(
    shape: tuple[int, int], reach_cells: float, rng: np.random.Generator
) -> NDArray[np.float64]:
    """Draw a field of mean 0 and sd 1 with a Gaussian correlation.

    Parameters
    ----------
    shape : (int, int)
        Rows and columns.
    reach_cells : float
        Separation at which the correlation has fallen to 1/e [cells].
    rng : numpy.random.Generator
        Source of randomness.

    Returns
    -------
    (rows, columns) float64 array
        The field, dimensionless.
    """
    # White noise smoothed with sigma has correlation exp(-h^2 / 4 sigma^2).
    sigma_cells = reach_cells / 2.0
    step = max(1, int(sigma_cells / 3.0))
    coarse = (shape[0] // step + 4, shape[1] // step + 4)
    field = ndimage.gaussian_filter(
        rng.standard_normal(coarse), sigma_cells / step, mode="wrap"
    )
    if step > 1:
        field = _enlarge(field, step)
    field = field[: shape[0], : shape[1]]
    return np.asarray((field - field.mean()) / field.std(), dtype=np.float64)


def _enlarge(field: NDArray[np.float64], step: int) -> NDArray[np.float64]:
    """Interpolate a field to ``step`` times as many nodes."""
    return np.asarray(ndimage.zoom(field, step, order=3, mode="nearest"))


def smooth_line(n: int, reach: float, rng: np.random.Generator) -> NDArray[np.float64]:
    """Draw a line of ``n`` samples, sd 1, correlated over ``reach`` samples."""
    pad = int(3 * reach) + 1
    line = ndimage.gaussian_filter1d(
        rng.standard_normal(n + 2 * pad), reach / 2.0, mode="wrap"
    )
    # The sd of smoothed white noise; a sample sd would flatten long waves.
    sd = (2.0 * np.sqrt(np.pi) * reach / 2.0) ** -0.5 if reach > 2.0 else line.std()
    return np.asarray(line[pad : pad + n] / sd, dtype=np.float64)


def fractal_field(
    shape: tuple[int, int],
    longest_cells: float,
    rng: np.random.Generator,
    *,
    roughness: float = 2.2,
) -> NDArray[np.float64]:
    """Draw a power-law field of sd 1 without waves longer than a limit.

    Parameters
    ----------
    shape : (int, int)
        Rows and columns.
    longest_cells : float
        Wavelength above which the spectrum falls away [cells].
    rng : numpy.random.Generator
        Source of randomness.
    roughness : float
        Amplitude falls as frequency to ``-roughness``: larger is smoother.

    Returns
    -------
    (rows, columns) float64 array
        The field, dimensionless.
    """
    rows, columns = (sp_fft.next_fast_len(n) for n in shape)
    spectrum = sp_fft.rfft2(rng.standard_normal((rows, columns)))
    frequency = np.hypot(
        sp_fft.fftfreq(rows)[:, None], sp_fft.rfftfreq(columns)[None, :]
    )
    corner = 1.0 / longest_cells
    high_pass = frequency**2 / (frequency**2 + corner**2)
    spectrum *= high_pass * (frequency + corner / 4.0) ** -roughness
    field = sp_fft.irfft2(spectrum, s=(rows, columns))[: shape[0], : shape[1]]
    return np.asarray(field / field.std(), dtype=np.float64)
