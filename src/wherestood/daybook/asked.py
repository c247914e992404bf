"""Hold what a fix was asked, so that it can be asked again."""

from __future__ import annotations

import os
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import Any

from wherestood.daybook.within import is_whole, place_within

__all__ = ["Asked", "named_within", "whole_path"]


@dataclass(frozen=True)
class Asked:
    """Hold how plate and ground were opened for a fix.

    Attributes
    ----------
    scan_file : str
        The scan: relative to the daybook, or whole where it lies outside.
    scan_ppi : float or None
        Scanning resolution that was told [pixels an inch].
    terrain_files : tuple of str
        Elevation files, likewise.
    around_deg : (float, float)
        Longitude and latitude about which ground was opened [deg].
    radius_m : float
        How far [m].
    """

    scan_file: str
    terrain_files: tuple[str, ...]
    around_deg: tuple[float, float]
    radius_m: float
    scan_ppi: float | None = None
    more: dict[str, Any] = field(default_factory=dict)

    def record(self) -> dict[str, Any]:
        """Return it as JSON holds it."""
        told = asdict(self)
        told["terrain_files"] = list(self.terrain_files)
        told["around_deg"] = list(self.around_deg)
        return told

    @classmethod
    def of(cls, record: dict[str, Any]) -> Asked:
        """Return what a record tells."""
        lon_deg, lat_deg = record["around_deg"]
        return cls(
            record["scan_file"],
            tuple(record["terrain_files"]),
            (lon_deg, lat_deg),
            record["radius_m"],
            record.get("scan_ppi"),
            record.get("more", {}),
        )


def named_within(folder: Path, path: Path | str) -> str:
    """Return how a file is named in a daybook: relative to it, or whole."""
    whole = Path(os.path.abspath(path))  # noqa: PTH100 (links stay as they are)
    root = Path(os.path.abspath(folder))  # noqa: PTH100
    if whole.is_relative_to(root):
        return whole.relative_to(root).as_posix()
    return str(whole)


def whole_path(folder: Path, name: str) -> Path:
    """Return where a file lies that a daybook names: whole, or within it.

    Raises
    ------
    DaybookError
        If it is named relative to the daybook and lies outside it.
    """
    return folder / name if is_whole(name) else place_within(folder, name)
