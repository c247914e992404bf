"""Print the OpenAPI document, from which the page's client is made."""

from __future__ import annotations

import json
import sys
import tempfile
from pathlib import Path
from typing import Any

from wherestood.server.app import make_app
from wherestood.server.desk import Desk

__all__ = ["document"]


def document() -> dict[str, Any]:
    """Return the OpenAPI document."""
    with tempfile.TemporaryDirectory() as folder:
        return make_app(Desk("nobody", Path(folder))).openapi()


if __name__ == "__main__":
    sys.stdout.write(json.dumps(document(), indent=1) + "\n")
