"""Hold a drawn picture until it is saved or shown."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from matplotlib.figure import Figure

from wherestood.errors import InputError

__all__ = ["Picture"]


@dataclass(frozen=True)
class Picture:
    """Hold a drawn picture until it is saved or shown."""

    figure: Figure

    def save(self, path: str | Path) -> Path:
        """Write the picture; its form follows the name (png, pdf, svg)."""
        try:
            self.figure.savefig(path)
        except (OSError, ValueError) as error:
            raise InputError(
                f"The picture {str(path)!r} cannot be written: {error}.",
                "Choose a folder that exists and a name ending in .png, .pdf or .svg.",
            ) from error
        return Path(path)

    def _repr_png_(self) -> bytes:
        """Return the picture as a notebook shows it."""
        from io import BytesIO

        stream = BytesIO()
        self.figure.savefig(stream, format="png")
        return stream.getvalue()
