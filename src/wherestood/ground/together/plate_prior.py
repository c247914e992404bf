"""Hold what a plate's own fix leaves of its station and camera, before others help."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from wherestood.errors import InputError
from wherestood.fix.camera_draws import CameraDraws
from wherestood.ground.cameras import PlateCameras
from wherestood.plate.straight import StraightPlate

__all__ = ["UNKNOWNS", "PlatePrior", "as_draws"]

Array = NDArray[np.float64]
#: What is unknown of each plate, in this order; log_distance is of its pixels.
UNKNOWNS = (
    "east_m", "north_m", "lens_m", "bearing_rad", "tilt_rad", "roll_rad",
    "log_distance", "rise_px", "cross_px", "k1", "vertical_scale", "warp_two_px",
    "warp_three_px",
)  # fmt: skip
#: No unknown is held more firmly than this: draws that were made up hold some fast.
_LEAST_SD = np.array(
    [0.05, 0.05, 0.05, 2e-5, 2e-5, 2e-5, 2e-5, 0.02, 0.02, 1e-5, 1e-5, 0.02, 0.02]
)
#: Fewer draws than these tell no covariance of so many unknowns.
_FEWEST = 40


@dataclass(frozen=True)
class PlatePrior:
    """Hold one plate's unknowns as its own fix has them: one place, normal about it.

    Attributes
    ----------
    name : str
        What it is called.
    mean : (13,) float64 array
        In the order of `UNKNOWNS`.
    covariance : (13, 13) float64 array
    width_px, height_px : int
        Of the plate, straightened if its corners are marked [px].
    reversed : bool
        Whether the scan is mirrored.
    straight : StraightPlate or None
        How the scan lies on the plate.
    """

    name: str
    mean: Array
    covariance: Array
    width_px: int
    height_px: int
    reversed: bool = False
    straight: StraightPlate | None = None

    @classmethod
    def of_draws(cls, name: str, cameras: PlateCameras) -> PlatePrior:
        """Sum draws of one place up.

        Parameters
        ----------
        name : str
            What the plate is called.
        cameras : PlateCameras
            As a fix leaves them possible; those of one place
            (`wherestood.ground.mapping.Mapping.at_place`), for two places have no
            middle.

        Raises
        ------
        InputError
            If there are too few, or the scan may as well be mirrored.
        """
        draws = cameras.draws
        if len(draws) < _FEWEST:
            raise InputError(
                f"Plate {name} has {len(draws)} cameras; {_FEWEST} are needed.",
                "Make its fix again.",
            )
        turned = float(draws.reversed.mean())
        if 0.1 < turned < 0.9:
            raise InputError(
                f"It is not settled whether plate {name} is left for right.",
                "Settle that first: say of its scan whether it is mirrored.",
            )
        kept = draws.take(draws.reversed == (turned > 0.5))
        bearing = _about_middle(kept.bearing_rad)
        columns = [
            bearing if one == "bearing_rad"
            else np.log(kept.principal_distance_px) if one == "log_distance"
            else getattr(kept, one)
            for one in UNKNOWNS
        ]  # fmt: skip
        values = np.column_stack(columns)
        covariance = np.cov(values, rowvar=False)
        covariance += np.diag(np.maximum(_LEAST_SD**2 - np.diag(covariance), 0.0))
        # Rounded draws may leave a direction without any spread.
        covariance += np.diag(1e-6 * np.diag(covariance))
        return cls(
            name, values.mean(axis=0), covariance, cameras.width_px,
            cameras.height_px, turned > 0.5, cameras.straight,
        )  # fmt: skip

    def cameras(self, values: Array) -> PlateCameras:
        """Return cameras with (n, 13) unknowns of this plate."""
        draws = as_draws(values, mirrored=self.reversed)
        return PlateCameras(draws, self.width_px, self.height_px, self.straight)


def as_draws(values: Array, *, mirrored: bool = False) -> CameraDraws:
    """Return (n, 13) unknowns as cameras."""
    told = dict(zip(UNKNOWNS, values.T, strict=True))
    distance = np.exp(told.pop("log_distance"))
    return CameraDraws(
        **told,
        principal_distance_px=distance,
        reversed=np.full(len(values), mirrored, dtype=np.bool_),
    )


def _about_middle(bearing_rad: Array) -> Array:
    middle = np.angle(np.exp(1j * bearing_rad).mean())
    return np.asarray(middle + np.angle(np.exp(1j * (bearing_rad - middle))))
