"""Let only the person's own browser in.

A server on loopback is reached by every page that the browser has open, and by names
that others control (DNS rebinding). So the host that is asked for must be this one,
the page that asks must be ours, and whoever asks must hold the token that the program
handed to the browser it opened: OWASP, *Cross-Site Request Forgery Prevention Cheat
Sheet*, and Fetch, W3C *Fetch Metadata Request Headers*, section 2.
"""

from __future__ import annotations

import hmac
import html
import json
import secrets
import threading
from dataclasses import dataclass
from http.cookies import CookieError, SimpleCookie
from urllib.parse import parse_qs, urlsplit

from starlette.datastructures import Headers, MutableHeaders
from starlette.types import ASGIApp, Message, Receive, Scope, Send

__all__ = ["TOKEN", "Guard", "GuardSettings", "OnceOnly", "new_token"]

TOKEN = "token"
#: A skyline of 100,000 points in JSON is 5 MB.
LONGEST_BODY_BYTES = 32 * 1024**2
_LOOPBACK = ("127.0.0.1", "localhost", "[::1]")


def new_token() -> str:
    """Return a token that nobody can guess: 256 bits."""
    return secrets.token_urlsafe(32)


class OnceOnly:
    """Be a token that lets one browser in, and then none."""

    def __init__(self) -> None:
        self.token = new_token()
        self._used = threading.Lock()

    def take(self, given: str) -> bool:
        """Tell whether this is the token, for the first time."""
        return _same(given, self.token) and self._used.acquire(blocking=False)


@dataclass(frozen=True)
class GuardSettings:
    """Say who may ask.

    Attributes
    ----------
    port : int
        The port that is listened to.
    token : str
        What a browser must hold.
    opening : OnceOnly or None
        What is handed to the browser that the program opens, by its command line, which
        every user of the machine can read: it is worth nothing once it was used.
    """

    port: int
    token: str
    opening: OnceOnly | None = None

    @property
    def hosts(self) -> frozenset[str]:
        """Return the hosts by which this server may be asked for."""
        return frozenset(f"{name}:{self.port}" for name in _LOOPBACK)

    @property
    def cookie(self) -> str:
        """Return the cookie's name: cookies do not tell ports apart."""
        return f"wherestood-{self.port}"

    def policy(self) -> str:
        """Return the Content-Security-Policy (W3C, CSP Level 3).

        No other host is in it: a base map that was set is fetched by the server.
        """
        return (
            "default-src 'none'; script-src 'self'; style-src 'self'; "
            "img-src 'self' blob: data:; font-src 'self'; connect-src 'self'; "
            "worker-src 'self'; manifest-src 'self'; base-uri 'none'; "
            "form-action 'none'; frame-ancestors 'none'"
        )


class Guard:
    """Stand before the application, and refuse who may not ask."""

    def __init__(self, app: ASGIApp, settings: GuardSettings) -> None:
        self.app = app
        self.settings = settings

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Let a request through, or answer it here."""
        if scope["type"] == "lifespan":
            await self.app(scope, receive, send)
            return
        if scope["type"] != "http":
            return  # no web sockets are served
        headers = Headers(scope=scope)
        wants_page = "text/html" in headers.get("accept", "")
        if (refusal := self._refusal(headers)) is not None:
            await _refuse(send, 403, *refusal, page=wants_page)
        elif scope["path"] == "/" and (given := _token_in(scope)):
            await self._take_token(given, send)
        elif self._holds_token(headers) and _too_long(scope, headers):
            await _refuse(
                send,
                413,
                "More was sent at once than anything here has need of.",
                "Send files by the page's own way of taking files in.",
            )
        elif self._holds_token(headers):
            await self.app(scope, receive, self._dressed(send))
        else:
            await _refuse(
                send,
                401,
                "This page was not opened by wherestood, or its session is over.",
                "Open the address that wherestood serve printed.",
                page=wants_page,
            )

    def _refusal(self, headers: Headers) -> tuple[str, str] | None:
        settings = self.settings
        if headers.get("host", "") not in settings.hosts:
            return (
                "The address asked for is not this server's.",
                f"Use http://127.0.0.1:{settings.port}/.",
            )
        origin = headers.get("origin")
        if origin is not None:
            parts = urlsplit(origin)
            if parts.scheme != "http" or parts.netloc not in settings.hosts:
                return ("Another site asked for this.", "Ask from wherestood's page.")
        site = headers.get("sec-fetch-site", "none")
        # A click on the printed address in another page opens ours: a navigation.
        navigates = headers.get("sec-fetch-mode") == "navigate"
        if site not in ("same-origin", "none") and not navigates:
            return ("Another site asked for this.", "Ask from wherestood's page.")
        return None

    def _holds_token(self, headers: Headers) -> bool:
        try:
            cookies = SimpleCookie(headers.get("cookie", ""))
        except CookieError:
            return False
        held = cookies.get(self.settings.cookie)
        return held is not None and _same(held.value, self.settings.token)

    async def _take_token(self, given: str, send: Send) -> None:
        opening = self.settings.opening
        taken = opening is not None and opening.take(given)
        if not taken and not _same(given, self.settings.token):
            await _refuse(
                send,
                401,
                "The address holds an old token.",
                "Open the address that wherestood serve printed last.",
            )
            return
        cookie = (
            f"{self.settings.cookie}={self.settings.token}; HttpOnly; "
            "SameSite=Strict; Path=/"
        )
        # A page of its own that goes on by itself: after a redirect that began at
        # another site the browser would leave a strict cookie out.
        body = (
            b"<!doctype html><html lang=en><meta charset=utf-8>"
            b"<meta http-equiv=refresh content='0;url=/'><title>wherestood</title>"
            b"<p><a href='/'>Open wherestood</a></p></html>"
        )
        headers = [
            (b"content-type", b"text/html; charset=utf-8"),
            (b"set-cookie", cookie.encode("ascii")),
            (b"cache-control", b"no-store"),
            (b"referrer-policy", b"no-referrer"),
            (b"content-security-policy", b"default-src 'none'"),
            (b"content-length", str(len(body)).encode("ascii")),
        ]
        await send({"type": "http.response.start", "status": 200, "headers": headers})
        await send({"type": "http.response.body", "body": body})

    def _dressed(self, send: Send) -> Send:
        async def dressed(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                headers["content-security-policy"] = self.settings.policy()
                headers["x-content-type-options"] = "nosniff"
                headers["referrer-policy"] = "no-referrer"
                headers["cross-origin-opener-policy"] = "same-origin"
                headers["cross-origin-resource-policy"] = "same-origin"
                headers["x-frame-options"] = "DENY"
                headers.setdefault("cache-control", "no-store")
            await send(message)

        return dressed


def _too_long(scope: Scope, headers: Headers) -> bool:
    """Tell whether a body is too long, or its length not said; but of files."""
    path = scope["path"]
    if path.startswith("/api/uploads/") and path.endswith("/files"):
        return False
    if "transfer-encoding" in headers:
        return True
    said = headers.get("content-length", "0")
    return not said.isdecimal() or int(said) > LONGEST_BODY_BYTES


def _token_in(scope: Scope) -> str:
    found = parse_qs(scope.get("query_string", b"").decode("latin-1"))
    return str(found.get(TOKEN, [""])[0])


def _same(first: str, second: str) -> bool:
    return hmac.compare_digest(first.encode(), second.encode())


async def _refuse(
    send: Send, status: int, problem: str, remedy: str, *, page: bool = False
) -> None:
    """Answer with a trouble, as a page where a person asked for one."""
    told = {"problem": problem, "remedy": remedy, "field": ""}
    text = json.dumps(told)
    if page:
        text = (
            "<!doctype html><html lang=en><meta charset=utf-8><title>wherestood</title>"
            f"<p>{html.escape(problem)}<p>{html.escape(remedy)}</html>"
        )
    body = text.encode("utf-8")
    kind = b"text/html; charset=utf-8" if page else b"application/json"
    headers = [
        (b"content-type", kind),
        (b"content-security-policy", b"default-src 'none'"),
        (b"content-length", str(len(body)).encode("ascii")),
        (b"x-content-type-options", b"nosniff"),
        (b"cache-control", b"no-store"),
    ]
    await send({"type": "http.response.start", "status": status, "headers": headers})
    await send({"type": "http.response.body", "body": body})
