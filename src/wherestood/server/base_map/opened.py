"""Open the base map that was set, once."""

from __future__ import annotations

import hashlib
import threading
from dataclasses import dataclass, field
from pathlib import Path
from urllib.parse import urldefrag, urlsplit

from wherestood.errors import InputError
from wherestood.server.base_map.capabilities import read_capabilities
from wherestood.server.base_map.fetched import Fetched
from wherestood.server.base_map.pyramid import Pyramid, xyz_pyramid
from wherestood.server.forms.state import BaseMap

__all__ = ["BaseMaps"]

FOLDER = "base map"


@dataclass
class BaseMaps:
    """Keep the base map that was last asked for."""

    _of: tuple[Path, BaseMap] | None = None
    _open: tuple[Pyramid, Fetched] | None = None
    _lock: threading.Lock = field(default_factory=threading.Lock)

    def open(self, base_map: BaseMap, out: Path) -> tuple[Pyramid, Fetched]:
        """Return a base map's tiles, and what fetches them.

        Parameters
        ----------
        base_map : BaseMap
            As it was set.
        out : Path
            The daybook's folder for what may be deleted.

        Raises
        ------
        InputError
            If its address cannot be used.
        """
        with self._lock:
            if self._open is None or self._of != (out, base_map):
                self._open = _opened(base_map, out)
                self._of = (out, base_map)
            return self._open


def _opened(base_map: BaseMap, out: Path) -> tuple[Pyramid, Fetched]:
    address, layer = urldefrag(base_map.address)
    host = urlsplit(address).netloc
    name = hashlib.sha256(base_map.address.encode()).hexdigest()[:16]
    fetched = Fetched(out / FOLDER / name, host)
    if base_map.kind == "wmts":
        return read_capabilities(fetched.get(address), layer, host), fetched
    if not all(part in address for part in ("{z}", "{x}", "{y}")):
        raise InputError(
            "The base map's address does not say where level, column and row go.",
            "Write {z}, {x} and {y} in it, or say that it is a WMTS.",
        )
    return xyz_pyramid(address), fetched
