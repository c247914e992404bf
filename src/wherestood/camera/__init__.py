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

__all__ = [
    "CAMERA_PARAMETERS",
    "Camera",
    "Derivatives",
    "axes",
    "bearing_elevation",
    "project",
    "project_points",
    "project_points_derivatives",
    "projection_derivatives",
    "rays",
    "sight",
]
