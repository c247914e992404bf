"""Listen on loopback, and open the browser."""

from __future__ import annotations

import os
import socket
import sys
import tempfile
import threading
import time
import webbrowser
from collections.abc import Callable
from pathlib import Path

import uvicorn

from wherestood.errors import InputError
from wherestood.server.app import make_app
from wherestood.server.desk import Desk
from wherestood.server.guard import TOKEN, GuardSettings, OnceOnly
from wherestood.server.session_token import kept_token, state_folder

__all__ = ["DEFAULT_PORT", "HOST", "has_display", "listen", "serve"]

DEFAULT_PORT = 8618
#: The one address that is listened on.
HOST = "127.0.0.1"
_TRIED = 20  # ports after the usual one, where that is taken
_SOON_S = 30.0


def serve(
    folder: Path | None,
    person: str,
    *,
    port: int | None = None,
    open_browser: bool = True,
    say: Callable[[str], None] = print,
) -> None:
    """Serve a daybook until told to stop.

    Parameters
    ----------
    folder : Path or None
        The daybook; without one the page offers the demo and a new one.
    person : str
        Who writes, unless the page says otherwise.
    port : int, optional
        The port; the usual one, or a free one near it, unless told.
    open_browser : bool
        Whether the browser is opened.
    say : callable
        Is told the address.

    Raises
    ------
    InputError
        If the port cannot be listened to.
    DaybookError
        If the daybook cannot be opened.
    """
    with tempfile.TemporaryDirectory(prefix="wherestood-") as passing:
        desk = Desk(person, Path(passing))
        desk.base_maps.agreed_in = state_folder() / "base-maps"
        try:
            if folder is not None:
                desk.open(folder)
            listening = listen(port)
            chosen = listening.getsockname()[1]
            token = kept_token(chosen)
            opening = OnceOnly()
            guard = GuardSettings(chosen, token, opening)
            address = f"http://{HOST}:{chosen}/?{TOKEN}="
            say(f"Serving at {address}{token}")
            say("Only this machine can open it. Stop with Ctrl-C.")
            server = uvicorn.Server(
                uvicorn.Config(
                    make_app(desk, guard),
                    log_level="warning",
                    access_log=False,
                    server_header=False,
                    date_header=False,
                    timeout_graceful_shutdown=2,
                )
            )
            if open_browser:
                threading.Thread(
                    target=_open_when_ready,
                    args=(server, address + opening.token),
                    daemon=True,
                ).start()
            server.run(sockets=[listening])
        finally:
            desk.close()


def has_display() -> bool:
    """Tell whether a browser could be shown on this machine."""
    if sys.platform in ("darwin", "win32"):
        return True
    return bool(os.environ.get("DISPLAY") or os.environ.get("WAYLAND_DISPLAY"))


def _open_when_ready(server: uvicorn.Server, address: str) -> None:
    began = time.monotonic()
    while not server.started and time.monotonic() - began < _SOON_S:
        time.sleep(0.05)
    webbrowser.open(address)


def listen(port: int | None) -> socket.socket:
    """Listen on loopback alone, whatever the machine's other addresses.

    Parameters
    ----------
    port : int, optional
        0 for any that is free; the usual one, or one near it, unless told.

    Raises
    ------
    InputError
        If the port cannot be listened to.
    """
    wanted = [port] if port is not None else range(DEFAULT_PORT, DEFAULT_PORT + _TRIED)
    trouble: OSError | None = None
    for number in wanted:
        # Only where the protocol is named does asyncio send what is small at once;
        # else the second half of each answer waits 40 ms for the browser's receipt.
        listening = socket.socket(
            socket.AF_INET, socket.SOCK_STREAM, socket.IPPROTO_TCP
        )
        if sys.platform != "win32":
            listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            listening.bind((HOST, number))
            # Who opens the address as soon as it is printed waits, not refused.
            listening.listen()
            return listening
        except (OSError, OverflowError) as error:
            listening.close()
            trouble = error if isinstance(error, OSError) else OSError(str(error))
    which = f"port {port}" if port is not None else f"any port from {DEFAULT_PORT}"
    raise InputError(
        f"The server cannot listen on {which} "
        f"({trouble.strerror if trouble and trouble.strerror else trouble}).",
        "Stop what uses it, or choose another with --port.",
    )
