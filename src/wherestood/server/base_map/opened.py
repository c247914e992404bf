"""Open the base map that was set, once."""

from __future__ import annotations

import hashlib
import threading
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path
from urllib.parse import urldefrag, urlsplit

from wherestood.errors import InputError
from wherestood.server.base_map.capabilities import read_capabilities
from wherestood.server.base_map.fetched import MOST_BYTES, Fetched
from wherestood.server.base_map.pyramid import Pyramid, xyz_pyramid
from wherestood.server.forms.state import BaseMap
from wherestood.server.kept_within import keep_within
from wherestood.server.troubles import TroubleError

__all__ = ["BaseMaps"]

FOLDER = "base map"


class NotAgreedError(TroubleError):
    """Report that a base map came with the daybook, and was not agreed to here."""

    status = 403


@dataclass
class BaseMaps:
    """Keep the base map that was last asked for, and which of them are agreed to.

    An address comes with a daybook, and a daybook may come from anybody: it is asked
    only once a person of this machine has set it, or said that it may be.

    Attributes
    ----------
    agreed_in : Path or None
        This person's file of addresses; None keeps them in memory.
    """

    agreed_in: Path | None = None
    _agreed: set[str] = field(default_factory=set)
    _of: tuple[Path, BaseMap] | None = None
    _open: tuple[Pyramid, Fetched] | None = None
    _lock: threading.Lock = field(default_factory=threading.Lock)

    def agreed(self, base_map: BaseMap) -> bool:
        """Tell whether a person of this machine said that it may be asked."""
        return base_map.address in self._agreed | self._kept()

    def agree(self, base_map: BaseMap) -> None:
        """Note that a person of this machine said that it may be asked."""
        self._agreed.add(base_map.address)
        if self.agreed_in is None:
            return
        with suppress(OSError):  # it is then asked again after a restart
            self.agreed_in.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
            lines = sorted(self._agreed | self._kept())
            self.agreed_in.write_text("\n".join(lines) + "\n", encoding="utf-8")

    def _kept(self) -> set[str]:
        try:
            if self.agreed_in is None:
                return set()
            return set(self.agreed_in.read_text("utf-8").splitlines())
        except (OSError, UnicodeDecodeError):
            return set()

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
        NotAgreedError
            If nobody on this machine agreed that it is asked.
        """
        if not self.agreed(base_map):
            host = urlsplit(base_map.address).netloc
            raise NotAgreedError(
                f"This daybook names a base map at {host}; nobody on "
                "this machine has said that it may be asked.",
                "Say so in the layers of the map, or go on without it.",
            )
        with self._lock:
            if self._open is None or self._of != (out, base_map):
                self._open = _opened(base_map, out)
                self._of = (out, base_map)
            return self._open


def _opened(base_map: BaseMap, out: Path) -> tuple[Pyramid, Fetched]:
    address, layer = urldefrag(base_map.address)
    host = urlsplit(address).netloc
    name = hashlib.sha256(base_map.address.encode()).hexdigest()[:16]
    # Of base maps that were set before, too.
    keep_within(out / FOLDER, MOST_BYTES)
    fetched = Fetched(out / FOLDER / name, host)
    if base_map.kind == "wmts":
        return read_capabilities(fetched.get(address), layer, host), fetched
    if not all(part in address for part in ("{z}", "{x}", "{y}")):
        raise InputError(
            "The base map's address does not say where level, column and row go.",
            "Write {z}, {x} and {y} in it, or say that it is a WMTS.",
        )
    return xyz_pyramid(address), fetched
