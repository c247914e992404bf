"""Offer smooth invented hills whose skyline is known in closed form."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pytest
from numpy.typing import NDArray

from wherestood.camera import Camera, project
from wherestood.evidence.linearise import fill_residuals
from wherestood.evidence.unknowns import CAMERA, COUNT

Array = NDArray[np.float64]

# Height over the level, number of hills round the circle, phase.
_HILLS = ((0.02, 3, 0.4), (0.015, 7, 0.0), (0.008, 19, 1.0), (0.004, 41, 2.0))


@dataclass(frozen=True)
class InventedHills:
    """Hold hills that rise and fall as sums of sines in bearing.

    Attributes
    ----------
    bearings : int
        Number of bearings in the profile.
    """

    bearings: int

    def tangent(self, bearing_rad: Array) -> Array:
        """Return the tangent of the horizon's elevation."""
        parts = [a * np.sin(n * bearing_rad + p) for a, n, p in _HILLS]
        return 0.06 + np.sum(parts, axis=0)

    def distance_m(self, bearing_rad: Array) -> Array:
        """Return how far the horizon is [m]."""
        return 4000.0 + 1500.0 * np.sin(5.0 * bearing_rad + 1.0)

    def profile(self) -> Array:
        """Return a table as `evidence.unknowns.PROFILE` lists it."""
        bearing = np.arange(self.bearings) * (2.0 * np.pi / self.bearings)
        distance = self.distance_m(bearing)
        return np.column_stack(
            [
                self.tangent(bearing),
                distance,
                0.8 * distance,
                0.1 * np.sin(bearing) / distance,
                0.1 * np.cos(bearing) / distance,
            ]
        )

    def unknowns(self, camera: Camera) -> Array:
        """Return a camera as the unknowns of a mode, the rest zero."""
        diagonal = 2.0 * camera.half_diagonal_px
        theta = np.zeros(COUNT)
        theta[:7] = [
            camera.bearing_rad,
            np.log(camera.principal_distance_px / diagonal),
            camera.tilt_rad,
            camera.roll_rad,
            camera.rise_px / diagonal,
            camera.cross_px / diagonal,
            camera.k1,
        ]
        return theta

    def camera(self, theta: Array) -> Camera:
        """Return the camera of unknowns, on a scan of 4000 x 3000 px."""
        diagonal = 5000.0
        return Camera(
            bearing_rad=theta[0],
            tilt_rad=theta[2],
            roll_rad=theta[3],
            principal_distance_px=np.exp(theta[1]) * diagonal,
            rise_px=theta[4] * diagonal,
            cross_px=theta[5] * diagonal,
            k1=theta[6],
            width_px=4000,
            height_px=3000,
        )

    def samples(self, theta: Array, count: int, lift: Array | float = 0.0) -> Array:
        """Return a skyline as traced by a camera, warp included, without error.

        ``lift`` is added to the tangents: what stands above the model's horizon.
        """
        camera = self.camera(theta)
        half_rad = 0.95 * np.arctan(0.4 / np.exp(theta[1]))
        bearing = theta[0] + np.linspace(-half_rad, half_rad, count)
        tangent = self.tangent(bearing) + lift
        rays = np.column_stack([np.sin(bearing), np.cos(bearing), tangent])
        x_px, y_px = project(camera, rays)
        x = (x_px - 2000.0) / 5000.0
        y = (1500.0 - y_px) / 5000.0
        across = x / 0.4
        two = 1.5 * across**2 - 0.5
        three = 2.5 * across**3 - 1.5 * across
        y = (y - two * theta[8] - three * theta[9]) / (1.0 + theta[7])
        return np.column_stack([x, y, np.full(count, 2e-4), two, three])

    def rough_profile(self, seed: int, sd: float, width_rad: float) -> Array:
        """Return the profile with bumps of a tangent's sd and a width in bearing."""
        rng = np.random.default_rng(seed)
        turns = np.fft.rfftfreq(self.bearings, 1.0 / self.bearings)
        bumps = np.fft.rfft(rng.normal(size=self.bearings))
        bumps = np.fft.irfft(
            bumps * np.exp(-0.5 * (turns * width_rad) ** 2), self.bearings
        )
        profile = self.profile()
        profile[:, 0] += sd * bumps / bumps.std()
        return profile

    def samples_of(
        self, profile: Array, theta: Array, count: int, lift: Array | float = 0.0
    ) -> Array:
        """Return a skyline as a camera of no warp sees a profile, ``lift`` above it."""
        samples = self.samples(theta, count)
        residual, noise = np.empty(count), np.empty((count, 6))
        jacobian = np.empty((count, COUNT))
        there = theta.copy()
        there[CAMERA:] = 0.0
        # Newton's steps up the plate: the rays' tangents are smooth in Y.
        for _ in range(20):
            fill_residuals(there, samples, profile, 0.0, residual, jacobian, noise)
            samples[:, 1] -= (residual - lift) / jacobian[:, 4]
        return samples


@pytest.fixture(scope="session")
def fine_hills() -> InventedHills:
    """Hills at bearings so close that interpolation between them is exact."""
    return InventedHills(bearings=65_536)


@pytest.fixture(scope="session")
def hills() -> InventedHills:
    """Hills at bearings as close as a fit has them."""
    return InventedHills(bearings=3600)
