"""Put the server together: routes, errors, the guard, the page itself."""

from __future__ import annotations

from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from pathlib import Path
from typing import Any

from fastapi import FastAPI
from fastapi.openapi.utils import get_openapi
from fastapi.responses import FileResponse, HTMLResponse, Response

import wherestood
from wherestood.record.fix_json import fix_schema
from wherestood.server.desk import Desk
from wherestood.server.forms.answers import ANSWER_SCHEMA
from wherestood.server.forms.jobs import Changed
from wherestood.server.forms.trouble import Trouble
from wherestood.server.guard import Guard, GuardSettings
from wherestood.server.routes import (
    events,
    fixes,
    ground,
    handing_out,
    history,
    images,
    items,
    jobs,
    looking,
    making,
    map_layers,
    on_plate,
    panoramas,
    photographs,
    plans,
    plate_store,
    plates,
    region,
    state,
    traced,
    uploads,
    views,
    visiting,
    when,
)
from wherestood.server.troubles import NotThereError, add_handlers

__all__ = ["PAGE", "make_app"]

#: The built page, where it was built: `make web`.
PAGE = Path(__file__).with_name("page")
_NO_PAGE = (
    "<!doctype html><html lang=en><meta charset=utf-8><title>wherestood</title>"
    "<p>The page was not built. In a copy of the sources: <code>make web</code>.</p>"
    "</html>"
)
_TROUBLES: dict[int | str, dict[str, Any]] = {
    "4XX": {"model": Trouble, "description": "What is wrong, and what to do."},
    "5XX": {"model": Trouble, "description": "What went wrong."},
}


def make_app(desk: Desk, guard: GuardSettings | None = None) -> FastAPI:
    """Return the application.

    Parameters
    ----------
    desk : Desk
        What is open.
    guard : GuardSettings, optional
        Who may ask; without it nobody is refused, which serves for its description.
    """

    @asynccontextmanager
    async def life(_app: FastAPI) -> AsyncIterator[None]:
        yield
        desk.close()

    app = FastAPI(
        title="wherestood",
        version=wherestood.__version__,
        description="What the pages ask of the server. All of it is for this machine "
        "alone.",
        docs_url=None,
        redoc_url=None,
        openapi_url=None,
        lifespan=life,
        responses=_TROUBLES,
    )
    app.state.desk = desk
    add_handlers(app)
    for part in (
        state, items, plates, looking, traced, ground, map_layers, on_plate, plans,
        views, when, region, visiting, photographs, making, panoramas, fixes, jobs,
        events, history, uploads, images, handing_out, plate_store,
    ):  # fmt: skip
        app.include_router(part.router)
    app.add_api_route("/{path:path}", _page, include_in_schema=False)
    app.openapi = _described(app)  # type: ignore[method-assign]
    if guard is not None:
        app.add_middleware(Guard, settings=guard)
    return app


def _page(path: str) -> Response:
    """Serve the built page; names that are no file of it lead to its beginning."""
    if path.startswith(("api/", "iiif/")):
        raise NotThereError("There is nothing at this address.")
    # Only names of files that were built are served, so that none leads out.
    known = {
        file.relative_to(PAGE).as_posix(): file
        for file in (PAGE.rglob("*") if PAGE.is_dir() else ())
        if file.is_file()
    }
    if path in known and path != "index.html":
        # The builder names these by their content.
        hashed = path.startswith("assets/")
        keep = "private, max-age=31536000, immutable" if hashed else "no-cache"
        return FileResponse(known[path], headers={"Cache-Control": keep})
    if "index.html" not in known:
        return HTMLResponse(_NO_PAGE, headers={"Cache-Control": "no-store"})
    return FileResponse(known["index.html"], headers={"Cache-Control": "no-cache"})


def _described(app: FastAPI) -> Callable[[], dict[str, Any]]:
    def describe() -> dict[str, Any]:
        if app.openapi_schema is None:
            made = get_openapi(
                title=app.title,
                version=app.version,
                description=app.description,
                routes=app.routes,
            )
            schemas = made["components"]["schemas"]
            schemas[ANSWER_SCHEMA] = _answer_schema(schemas)
            # Events are a stream, of which the document can tell no form by itself.
            schemas["Changed"] = Changed.model_json_schema()
            whole = schemas["FixWhole"]["properties"]
            # The published form has a schema of its own, which the tables know not.
            whole["answer"] = {"$ref": f"#/components/schemas/{ANSWER_SCHEMA}"}
            for path in made["paths"].values():
                for operation in path.values():
                    # All are told by one handler, in one form.
                    operation["responses"].pop("422", None)
            for unused in ("HTTPValidationError", "ValidationError"):
                schemas.pop(unused, None)
            app.openapi_schema = made
        return app.openapi_schema

    return describe


def _answer_schema(schemas: dict[str, Any]) -> dict[str, Any]:
    """Return the published form of a fix; its parts become schemas of their own."""
    form = fix_schema()
    parts = {name: f"{ANSWER_SCHEMA}{name.title()}" for name in form.get("$defs", {})}

    def led(value: Any) -> Any:
        if isinstance(value, dict):
            if str(value.get("$ref", "")).startswith("#/properties/"):
                # A part of the form told again: the document has no such place.
                return led(_pointed_at(form, value["$ref"]))
            return {
                key: _led_to(part, parts) if key == "$ref" else led(part)
                for key, part in value.items()
            }
        return [led(part) for part in value] if isinstance(value, list) else value

    for name, part in form.get("$defs", {}).items():
        schemas[parts[name]] = led(part)
    kept = {k: v for k, v in form.items() if k not in ("$schema", "$id", "$defs")}
    made: dict[str, Any] = led(kept)
    return made


def _pointed_at(form: dict[str, Any], reference: str) -> Any:
    """Return what a reference within a form points at."""
    found: Any = form
    for name in reference.removeprefix("#/").split("/"):
        found = found[name]
    return found


def _led_to(reference: str, parts: dict[str, str]) -> str:
    name = reference.removeprefix("#/$defs/")
    return f"#/components/schemas/{parts.get(name, name)}"
