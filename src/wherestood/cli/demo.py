"""Answer ``wherestood demo``."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from wherestood.cli.options import AsJson

__all__ = ["demo"]


def demo(
    out: Annotated[
        Path, typer.Option(metavar="DIR", help="Folder for the plate and the answer.")
    ] = Path("demo-out"),
    json: AsJson = False,
) -> None:
    """Locate an invented plate in an invented place, and compare with the truth."""
    raise NotImplementedError
