"""Describe whom intake tells how far it has come."""

from __future__ import annotations

from typing import Protocol

__all__ = ["IntakeProgress"]


class IntakeProgress(Protocol):
    """Be told of stages and steps; may raise ``CancelledError`` to stop the work."""

    def stage(self, name: str, total: int | None = None) -> None:
        """Begin a stage of so many steps, None where that cannot be known."""

    def advance(self, steps: int = 1) -> None:
        """Report that some steps of the present stage are done."""
