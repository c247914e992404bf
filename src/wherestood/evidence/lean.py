"""Allow for the camera's lean where things are compared across a gap.

Symbols
-------
X, Y : offsets on the plate from the lens axis, right and up; c principal distance
rho, tau : roll and tilt [rad]; t tangent of elevation

Seen in line across dY, or one above the other across dX:

    error of a bearing   = (dY / c) (rho + tau X / c)
    error of a tangent   = (dX / c) (rho + t X / c)

The first is exact to the first order in roll and tilt. In the second the tilt moves
both alike, but a picture shows t / cos u, u the angle off the axis, not t.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from wherestood.camera.priors import CameraPrior

__all__ = ["Lean"]

#: A gap that nobody measured, as a share of the picture's side.
USUAL_GAP = 0.2
_UNIFORM = 1.0 / math.sqrt(12.0)
#: Sd of the square of what is uniform from -1/2 to 1/2.
_UNIFORM_SQUARED = math.sqrt(1.0 / 80.0 - 1.0 / 144.0)


@dataclass(frozen=True)
class Lean:
    """Hold what is believed of the camera where camera-free evidence needs some.

    Attributes
    ----------
    width_px, height_px : float
        Size of the scan [px].
    principal_distance_px : float
        Lens to plate, the middle of what is believed [px].
    ln_distance_sd : float
        Standard deviation of its natural log.
    roll_sd_rad, tilt_sd_rad : float
        Standard deviations of roll and tilt [rad].
    """

    width_px: float
    height_px: float
    principal_distance_px: float
    ln_distance_sd: float
    roll_sd_rad: float
    tilt_sd_rad: float

    @classmethod
    def of(cls, prior: CameraPrior) -> Lean:
        """Take it from what was likely of the camera before the picture was read."""
        diagonal_px = math.hypot(prior.width_px, prior.height_px)
        return cls(
            prior.width_px,
            prior.height_px,
            diagonal_px * math.exp(prior.ln_c.mean),
            prior.ln_c.sd,
            prior.roll_sd_rad,
            prior.tilt_rad.sd,
        )

    @property
    def width_over_distance(self) -> float:
        """Return the picture's width over the principal distance, no unit."""
        return self.width_px / self.principal_distance_px

    @property
    def field_share(self) -> float:
        """Return how much of a turn the picture takes in, no unit."""
        return math.atan(self.width_over_distance / 2.0) / math.pi

    def sideways_sd_rad(
        self, gap_heights: float | None = None, x_px: float | None = None
    ) -> float:
        """Return the error of a difference of bearings read across a gap [rad].

        Parameters
        ----------
        gap_heights : float, optional
            The gap up and down, as a share of the picture's height.
        x_px : float, optional
            Where on the scan it is; anywhere in the picture without it [px].
        """
        gap = USUAL_GAP if gap_heights is None else gap_heights
        off_axis = self._off_axis(x_px)
        turn = math.hypot(self.roll_sd_rad, self.tilt_sd_rad * off_axis)
        return gap * self.height_px / self.principal_distance_px * turn * self._short

    def upward_sd(
        self,
        tangent: float,
        gap_widths: float | None = None,
        x_px: float | None = None,
    ) -> float:
        """Return the error of a difference of tangents read across a gap, no unit.

        Parameters
        ----------
        tangent : float
            About how steeply one looks up.
        gap_widths : float, optional
            The gap from left to right, as a share of the picture's width.
        x_px : float, optional
            Where on the scan it is; anywhere in the picture without it [px].
        """
        gap = USUAL_GAP if gap_widths is None else gap_widths
        bend = abs(tangent) * self._off_axis(x_px)
        turn = math.hypot(self.roll_sd_rad, bend)
        return gap * self.width_over_distance * turn * self._short

    def angle_of_widths(self, widths: float) -> tuple[float, float]:
        """Return the angle that a share of the picture's width spans, and its sd [rad].

        Notes
        -----
        With w the width over c, a short piece at X spans ``s w / (1 + (X / c)^2)``.
        X is taken as uniform over the width: (X / c)^2 has mean w^2 / 12 and sd
        0.0745 w^2.
        """
        w = self.width_over_distance
        flat = 1.0 / (1.0 + w**2 / 12.0)
        angle = widths * w * flat
        share = math.hypot(self.ln_distance_sd, _UNIFORM_SQUARED * w**2 * flat)
        return angle, abs(angle) * share

    def _off_axis(self, x_px: float | None) -> float:
        """Return X / c, or its root mean square over the picture."""
        if x_px is None:
            return _UNIFORM * self.width_over_distance
        return abs(x_px - self.width_px / 2.0) / self.principal_distance_px

    @property
    def _short(self) -> float:
        """Return the root mean square of 1 / c over one over its middle."""
        return math.exp(self.ln_distance_sd**2)
