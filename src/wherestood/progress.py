"""Report how far a long computation has come."""

from __future__ import annotations

from typing import Protocol

__all__ = ["SILENT", "Progress", "SilentProgress"]


class Progress(Protocol):
    """Be told of stages and steps.

    An implementation stops the work by raising
    :class:`wherestood.errors.CancelledError` from either method.
    """

    def stage(self, name: str, total: int | None = None) -> None:
        """Begin a stage.

        Parameters
        ----------
        name : str
            What is being done, in plain words ("searching the ground").
        total : int, optional
            How many steps the stage has; None where that cannot be known.
        """

    def advance(self, steps: int = 1) -> None:
        """Report that some steps of the present stage are done."""


class SilentProgress:
    """Ignore every report."""

    def stage(self, name: str, total: int | None = None) -> None:
        """Do nothing."""

    def advance(self, steps: int = 1) -> None:
        """Do nothing."""


SILENT = SilentProgress()
