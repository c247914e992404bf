"""Offer the program's progress reports to the intake of elevation."""

from wherestood.progress import Progress as IntakeProgress

__all__ = ["IntakeProgress"]
