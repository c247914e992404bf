"""Hold the colours of pictures made for print."""

from __future__ import annotations

__all__ = [
    "CARD",
    "GRAPHITE",
    "IRON_BLUE",
    "MADDER",
    "MOUNT",
    "PAPER",
    "PENCIL",
    "STRAW",
]

PAPER = "#F7F4EE"
CARD = "#FFFFFF"
MOUNT = "#E9E4DA"
GRAPHITE = "#2A2926"
PENCIL = "#6E6A62"
IRON_BLUE = "#1F4E79"  # what the machine computed, always dashed
MADDER = "#A23B2A"  # what a person put there or traced, always solid
STRAW = "#B58A1B"  # what is doubted: ground hatched, a line that may be no ridge thin
