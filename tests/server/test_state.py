"""The program says what is open; two tabs hear of each other."""

from __future__ import annotations

import json
import threading
from pathlib import Path
from typing import Any

import httpx
from fastapi import FastAPI

from wherestood.daybook import Daybook, find
from wherestood.daybook.tables import Plate
from wherestood.server.desk import Desk
from wherestood.server.session_token import kept_token


def test_state_counts_what_stands(client: httpx.Client) -> None:
    told = client.get("/api/state").json()
    assert told["person"] == "Ada Moss"
    counts = told["daybook"]["counts"]
    assert (counts["plates"], counts["scans"], counts["terrain_layers"]) == (1, 1, 1)
    assert told["daybook"]["revision"] > 0


def test_settings_are_remembered(client: httpx.Client) -> None:
    client.patch("/api/settings", json={"units": "chains", "guide_dismissed": True})
    told = client.get("/api/state").json()["settings"]
    assert (told["units"], told["guide_dismissed"]) == ("chains", True)
    assert client.patch("/api/settings", json={"units": "parsecs"}).status_code == 400
    # A zone is kept by itself, and taken away by saying none.
    client.patch("/api/settings", json={"zone_hours": -3.5})
    told = client.get("/api/state").json()["settings"]
    assert (told["zone_hours"], told["units"]) == (-3.5, "chains")
    assert client.patch("/api/settings", json={"zone_hours": 15}).status_code == 400
    client.patch("/api/settings", json={"zone_hours": None})
    assert client.get("/api/state").json()["settings"]["zone_hours"] is None


def test_daybook_is_made_and_opened(client: httpx.Client, tmp_path: Path) -> None:
    place = str(tmp_path / "new one")
    told = client.post("/api/daybook/new", json={"folder": place}).json()
    assert told["daybook"]["counts"]["plates"] == 0
    assert client.get("/api/plates").json() == {"cards": [], "total": 0}
    again = client.post("/api/daybook/new", json={"folder": place})
    assert again.status_code == 409
    nothing = client.post("/api/daybook/open", json={"folder": str(tmp_path / "no")})
    assert nothing.status_code == 409
    relative = client.post("/api/daybook/open", json={"folder": "../x"})
    assert relative.status_code == 400
    # What could not be opened leaves the open one as it was.
    assert client.get("/api/state").json()["daybook"]["name"] == "new one"


def test_folders_are_listed_without_files(
    client: httpx.Client, folder: Path, tmp_path: Path
) -> None:
    (tmp_path / "letter.txt").write_text("private")
    (tmp_path / ".hidden").mkdir()
    told = client.get("/api/folders", params={"within": str(tmp_path)}).json()
    names = {one["name"]: one["is_daybook"] for one in told["folders"]}
    assert names[folder.name] is True
    assert "letter.txt" not in names
    assert ".hidden" not in names


def test_without_a_daybook_the_page_is_offered_and_nothing_else(
    routes: FastAPI, tmp_path: Path
) -> None:
    desk = routes.state.desk = Desk("Ada Moss", tmp_path)
    transport = httpx.ASGITransport(routes)

    async def ask() -> tuple[Any, Any]:
        async with httpx.AsyncClient(transport=transport, base_url="http://x") as one:
            return (await one.get("/api/state")), (await one.get("/api/plates"))

    import asyncio

    state, plates = asyncio.run(ask())
    desk.close()
    assert state.json()["daybook"] is None
    assert plates.status_code == 400
    assert "demo" in plates.json()["remedy"]


def test_second_tab_hears_of_a_change_whoever_made_it(
    client: httpx.Client, folder: Path, plate_id: str
) -> None:
    heard: list[dict[str, Any]] = []
    ready = threading.Event()

    def listen() -> None:
        with client.stream("GET", "/api/events") as stream:
            event = ""
            for line in stream.iter_lines():
                if line.startswith("event: "):
                    event = line.removeprefix("event: ")
                    ready.set()
                elif line.startswith("data: ") and event == "changed":
                    heard.append(json.loads(line.removeprefix("data: ")))
                    if len(heard) == 2:
                        return

    thread = threading.Thread(target=listen, daemon=True)
    thread.start()
    assert ready.wait(60.0)
    client.patch(f"/api/items/plates/{plate_id}", json={"note": "first tab"})
    with Daybook.open(folder) as book, book.writing("Bo", "command line") as session:
        find(session, Plate, "1987.12").note = "elsewhere"
    thread.join(60.0)
    assert [(one["person"], one["tables"]) for one in heard] == [
        ("Ada Moss", ["plates"]),
        ("Bo", ["plates"]),
    ]
    assert heard[0]["plate_ids"] == [plate_id]
    assert heard[1]["revision"] > heard[0]["revision"]


def test_document_describes_every_route_with_one_form_of_trouble(
    routes: FastAPI,
) -> None:
    told = routes.openapi()
    operations = [
        operation for path in told["paths"].values() for operation in path.values()
    ]
    names = [operation["operationId"] for operation in operations]
    assert len(names) == len(set(names))
    for operation in operations:
        assert "4XX" in operation["responses"]
        assert "422" not in operation["responses"]
    text = json.dumps(told)
    for reference in set(_references(told)):
        assert (
            reference.removeprefix("#/components/schemas/")
            in (told["components"]["schemas"])
        ), reference
    assert "/tmp" not in text


def _references(value: Any) -> list[str]:
    if isinstance(value, dict):
        own = [value["$ref"]] if isinstance(value.get("$ref"), str) else []
        return own + [r for part in value.values() for r in _references(part)]
    if isinstance(value, list):
        return [r for part in value for r in _references(part)]
    return []


def test_token_outlives_a_restart_and_nobody_else_can_read_it(tmp_path: Path) -> None:
    first = kept_token(8618, tmp_path)
    assert kept_token(8618, tmp_path) == first
    assert kept_token(8619, tmp_path) != first
    path = tmp_path / "session-8618"
    assert path.stat().st_mode & 0o077 == 0
    path.chmod(0o644)
    assert kept_token(8618, tmp_path) != first


def test_contact_sheet_is_paged_in_order(client: httpx.Client) -> None:
    for number in (2, 10, 1):
        made = client.post(
            "/api/items/plates", json={"key": f"p{number}", "title": f"T{number}"}
        ).json()
        client.post(
            "/api/items/dates",
            json={"plate_id": made["id"], "edtf": f"18{70 + number}", "of": "exposed"},
        )
    for sort in ("key", "title", "date", "newest"):
        first = client.get("/api/plates", params={"sort": sort, "limit": 2}).json()
        rest = client.get("/api/plates", params={"sort": sort, "offset": 2}).json()
        keys = [card["key"] for card in first["cards"] + rest["cards"]]
        assert first["total"] == 4
        assert len(keys) == len(set(keys)) == 4
        if sort == "date":
            assert keys[:3] == ["p1", "p2", "p10"]
    dated = client.get("/api/plates", params={"from_year": 1872, "to_year": 1875})
    assert [card["key"] for card in dated.json()["cards"]] == ["p2"]
    found = client.get("/api/plates", params={"words": "mill"}).json()
    assert [card["key"] for card in found["cards"]] == ["1987.12"]
