"""Take originals in as they are, and watch that they stay so."""

from __future__ import annotations

from wherestood.daybook.originals.fixity import Finding, verify
from wherestood.daybook.originals.take import ScanDetails, TakenIn, take_in

__all__ = ["Finding", "ScanDetails", "TakenIn", "take_in", "verify"]
