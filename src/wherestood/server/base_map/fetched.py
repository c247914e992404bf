"""Fetch from the one host that was set, and keep what came."""

from __future__ import annotations

import hashlib
import math
import threading
import time
import urllib.error
import urllib.request
from contextlib import suppress
from dataclasses import dataclass, field
from http.client import HTTPMessage
from pathlib import Path
from typing import IO
from urllib.parse import urlsplit

import wherestood
from wherestood.errors import InputError
from wherestood.server.kept_within import keep_within

__all__ = ["MOST_BYTES", "Fetched"]

LARGEST_BYTES = 8 * 1024**2
#: All that is kept of base maps: some fifty thousand tiles of 20 kB.
MOST_BYTES = 1024**3
#: What is kept is looked through after so much more, since that takes time.
LOOKED_EVERY = MOST_BYTES // 32
KEPT_S = 30 * 24 * 3600.0
WAIT_S = 6.0
#: What could not be had is not asked for again so soon.
LATER_S = 60.0
#: Nor is a host that does not answer at all: a page must not wait for every tile.
HOST_LATER_S = 30.0
AT_ONCE = 4  # requests: common practice for a browser is 6


class _StayThere(urllib.request.HTTPRedirectHandler):
    """Follow no redirection that leads to another host."""

    def redirect_request(
        self,
        req: urllib.request.Request,
        fp: IO[bytes],
        code: int,
        msg: str,
        headers: HTTPMessage,
        newurl: str,
    ) -> urllib.request.Request | None:
        if urlsplit(newurl).netloc != urlsplit(req.full_url).netloc:
            return None
        return super().redirect_request(req, fp, code, msg, headers, newurl)


@dataclass
class Fetched:
    """Hold what was fetched, in a folder that may be deleted.

    Attributes
    ----------
    folder : Path
        Where it is kept.
    host : str
        The only host that is asked.
    """

    folder: Path
    host: str
    _failed: dict[str, float] = field(default_factory=dict)
    _silent_until_s: float = -math.inf
    _unseen_bytes: int = 0
    _door: threading.Semaphore = field(
        default_factory=lambda: threading.Semaphore(AT_ONCE)
    )

    def get(self, address: str) -> bytes:
        """Return what is at an address.

        Raises
        ------
        InputError
            If it cannot be had, and was not kept before.
        """
        name = hashlib.sha256(address.encode()).hexdigest()
        path = self.folder / name[:2] / name[2:]
        kept = path.read_bytes() if path.is_file() else None
        if kept is not None and time.time() - path.stat().st_mtime < KEPT_S:
            return kept
        later_s = max(self._failed.get(address, -math.inf), self._silent_until_s)
        if time.monotonic() < later_s:
            if kept is not None:
                return kept
            raise self._away()
        try:
            content = self._ask(address)
        except (OSError, ValueError) as error:  # of which all of urllib's are
            answered = isinstance(error, urllib.error.HTTPError | ValueError)
            self._failed[address] = time.monotonic() + LATER_S
            if not answered:
                self._silent_until_s = time.monotonic() + HOST_LATER_S
            if kept is not None:  # an old sheet is better than none
                return kept
            raise self._away() from error
        with suppress(OSError):  # a daybook that may only be read keeps nothing
            path.parent.mkdir(parents=True, exist_ok=True)
            passing = path.with_suffix(f".{threading.get_ident()}.part")
            passing.write_bytes(content)
            passing.replace(path)
            self._make_room(len(content))
        return content

    def _make_room(self, came_bytes: int) -> None:
        """Take away what was fetched longest ago, now and then."""
        self._unseen_bytes += came_bytes
        if self._unseen_bytes >= LOOKED_EVERY:
            self._unseen_bytes = 0
            keep_within(self.folder, MOST_BYTES)

    def _ask(self, address: str) -> bytes:
        if urlsplit(address).netloc != self.host:
            raise ValueError("another host")
        agent = {"User-Agent": f"wherestood/{wherestood.__version__}"}
        asked = urllib.request.Request(address, headers=agent)
        opener = urllib.request.build_opener(_StayThere)
        try:
            with self._door, opener.open(asked, timeout=WAIT_S) as answer:
                content: bytes = answer.read(LARGEST_BYTES + 1)
        except urllib.error.HTTPError as error:
            error.close()  # it is an answer too, and holds its connection
            raise
        if len(content) > LARGEST_BYTES:
            raise ValueError("too large")
        return content

    def _away(self) -> InputError:
        return InputError(
            f"The base map at {self.host} does not answer, or has nothing here.",
            "None is needed: the terrain's own relief goes on without it.",
        )
