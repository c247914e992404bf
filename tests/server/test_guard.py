"""Nobody is let in but the browser that the program opened."""

from __future__ import annotations

import socket

import httpx
import pytest

from wherestood.server.guard import GuardSettings, OnceOnly


def raw(port: int, *lines: str) -> str:
    """Send a request as written, and return what comes back."""
    with socket.create_connection(("127.0.0.1", port), timeout=20.0) as link:
        link.sendall("\r\n".join([*lines, "Connection: close", "", ""]).encode())
        parts = []
        while part := link.recv(65536):
            parts.append(part)
    return b"".join(parts).decode("utf-8", "replace")


def status(answer: str) -> int:
    return int(answer.split(" ", 2)[1])


def test_without_the_token_nothing_is_told(served: GuardSettings) -> None:
    address = f"http://127.0.0.1:{served.port}"
    for path in ("/", "/api/state", "/api/plates", "/iiif/3/x/info.json"):
        answer = httpx.get(address + path)
        assert answer.status_code == 401
        assert "session" in answer.json()["problem"]
    person = httpx.get(address + "/", headers={"accept": "text/html"})
    assert person.headers["content-type"].startswith("text/html")
    assert "wherestood serve" in person.text
    wrong = httpx.get(address + "/", params={"token": "guessed"})
    assert wrong.status_code == 401
    assert "set-cookie" not in wrong.headers


def test_cookie_is_out_of_reach_of_scripts_and_other_sites(
    served: GuardSettings,
) -> None:
    answer = httpx.get(
        f"http://127.0.0.1:{served.port}/", params={"token": served.token}
    )
    cookie = answer.headers["set-cookie"]
    assert "HttpOnly" in cookie
    assert "SameSite=Strict" in cookie
    assert "Domain" not in cookie
    assert answer.headers["referrer-policy"] == "no-referrer"


@pytest.mark.parametrize(
    "host", ["evil.example", "127.0.0.1", "127.0.0.1.evil.example:{port}", "localhost"]
)
def test_name_that_others_control_is_refused(
    client: httpx.Client, served: GuardSettings, host: str
) -> None:
    asked = host.format(port=served.port)
    answer = client.get("/api/state", headers={"host": asked})
    assert answer.status_code == 403


@pytest.mark.parametrize(
    "origin", ["https://evil.example", "null", "http://127.0.0.1:1", "file://"]
)
def test_page_of_another_site_is_refused(client: httpx.Client, origin: str) -> None:
    answer = client.put(
        "/api/session/person", json={"person": "Eve"}, headers={"origin": origin}
    )
    assert answer.status_code == 403
    assert client.get("/api/state").json()["person"] == "Ada Moss"


def test_own_page_is_let_in(client: httpx.Client, served: GuardSettings) -> None:
    own = {
        "origin": f"http://127.0.0.1:{served.port}",
        "sec-fetch-site": "same-origin",
    }
    answer = client.put("/api/session/person", json={"person": "Bo"}, headers=own)
    assert answer.json()["person"] == "Bo"


def test_request_that_another_site_began_is_refused(client: httpx.Client) -> None:
    for site in ("cross-site", "same-site"):
        answer = client.get("/api/state", headers={"sec-fetch-site": site})
        assert answer.status_code == 403


def test_page_may_load_nothing_from_elsewhere(client: httpx.Client) -> None:
    policy = client.get("/api/state").headers["content-security-policy"]
    rules = dict(part.strip().split(" ", 1) for part in policy.split(";"))
    assert rules["default-src"] == "'none'"
    assert rules["script-src"] == "'self'"
    assert rules["frame-ancestors"] == "'none'"
    assert "unsafe" not in policy
    assert "http" not in policy


def test_base_map_that_was_set_opens_the_page_to_no_other_host(
    client: httpx.Client,
) -> None:
    address = "https://tiles.example/{z}/{x}/{y}.png"
    base = {"kind": "xyz", "address": address, "credit": "Invented"}
    kept = client.patch("/api/settings", json={"units": "chains", "base_map": base})
    assert kept.json()["settings"]["base_map"]["address"] == address
    policy = client.get("/api/state").headers["content-security-policy"]
    assert "img-src 'self' blob: data:;" in policy
    assert "tiles.example" not in policy
    bad = {"base_map": {"kind": "xyz", "address": "https://a.example; script-src *"}}
    assert client.patch("/api/settings", json=bad).status_code == 400


@pytest.mark.parametrize(
    "path",
    [
        "/../../../../etc/passwd",
        "/..%2f..%2f..%2fetc/passwd",
        "/%2e%2e/%2e%2e/etc/passwd",
        "/assets/../../app.py",
        "/assets/..%5c..%5capp.py",
        "//etc/passwd",
        "/page/../guard.py",
    ],
)
def test_no_path_leads_out_of_the_page(served: GuardSettings, path: str) -> None:
    cookie = f"Cookie: {served.cookie}={served.token}"
    answer = raw(
        served.port, f"GET {path} HTTP/1.1", f"Host: 127.0.0.1:{served.port}", cookie
    )
    assert status(answer) in (200, 404)
    assert "root:" not in answer
    assert "def " not in answer


def test_picture_of_a_fix_leads_nowhere_else(client: httpx.Client) -> None:
    for name in ("..%2f..%2fdaybook.sqlite", "%2e%2e", "fix.json%00.png"):
        assert client.get(f"/api/fixes/none/pictures/{name}").status_code == 404


def test_address_that_opened_the_browser_opens_no_other() -> None:
    once = OnceOnly()
    assert not once.take("guessed")
    assert once.take(once.token)
    assert not once.take(once.token)


def test_body_of_absurd_length_is_refused_unread(served: GuardSettings) -> None:
    cookie = f"{served.cookie}={served.token}"
    for said in (f"Content-Length: {10**10}", "Transfer-Encoding: chunked"):
        answer = raw(
            served.port,
            "POST /api/undo HTTP/1.1",
            f"Host: 127.0.0.1:{served.port}",
            f"Cookie: {cookie}",
            "Content-Type: application/json",
            said,
        )
        assert status(answer) == 413
