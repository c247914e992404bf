"""Hold how a camera was set, and what was likely before anything was seen."""

from wherestood.camera.derivatives import (
    CAMERA_PARAMETERS,
    Derivatives,
    project_points,
    project_points_derivatives,
    projection_derivatives,
)
from wherestood.camera.model import (
    Camera,
    axes,
    bearing_elevation,
    project,
    rays,
    sight,
)
from wherestood.camera.priors import CameraPrior, camera_prior
from wherestood.camera.resection import Resection, resect

__all__ = [
    "CAMERA_PARAMETERS",
    "Camera",
    "CameraPrior",
    "Derivatives",
    "Resection",
    "axes",
    "bearing_elevation",
    "camera_prior",
    "project",
    "project_points",
    "project_points_derivatives",
    "projection_derivatives",
    "rays",
    "resect",
    "sight",
]
