"""Offer the program at a command line."""

from wherestood.cli.app import main, run

__all__ = ["main", "run"]
