"""Offer the program's progress reports to the search."""

from wherestood.progress import SILENT, Progress, SilentProgress

__all__ = ["SILENT", "Progress", "SilentProgress"]
