"""Turn every trouble into one form and the status that fits it."""

from __future__ import annotations

from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from fastapi.responses import JSONResponse, Response
from starlette.exceptions import HTTPException

from wherestood.errors import (
    CancelledError,
    DaybookError,
    InputError,
    TerrainError,
    WherestoodError,
)
from wherestood.server.forms.trouble import Trouble

__all__ = [
    "ChangedMeanwhileError",
    "NotThereError",
    "RefusedError",
    "StaleError",
    "TooLargeError",
    "TroubleError",
    "add_handlers",
    "status_of",
    "told",
]


class TroubleError(WherestoodError):
    """Be a trouble that only a server has, with its own status."""

    status = 400


class NotThereError(TroubleError):
    """Report that there is no such thing, or not yet."""

    status = 404


class StaleError(TroubleError):
    """Report that somebody changed it meanwhile."""

    status = 409


class ChangedMeanwhileError(StaleError):
    """Report that what was read is not what is there any more; nothing was written."""

    field = "revision"


class TooLargeError(TroubleError):
    """Report that a file is larger than may be taken in."""

    status = 413


class RefusedError(TroubleError):
    """Report that a file is not what it should be."""

    status = 415


#: The status of each class of error; the most particular that fits counts.
STATUS: dict[type[WherestoodError], int] = {
    CancelledError: 409,
    DaybookError: 409,
    TerrainError: 400,
    InputError: 400,
    WherestoodError: 400,
}


def status_of(error: WherestoodError) -> int:
    """Return the status of an error."""
    if isinstance(error, TroubleError):
        return error.status
    return next(status for kind, status in STATUS.items() if isinstance(error, kind))


def told(error: WherestoodError) -> Trouble:
    """Return an error in the form in which it is told."""
    return Trouble(
        problem=error.problem,
        remedy=error.remedy,
        field=str(getattr(error, "field", "")),
    )


def add_handlers(app: FastAPI) -> None:
    """Have an application tell all its troubles in one form."""

    @app.exception_handler(WherestoodError)
    async def _ours(_request: Request, error: WherestoodError) -> Response:
        return _answer(status_of(error), told(error))

    @app.exception_handler(RequestValidationError)
    async def _malformed(_request: Request, error: RequestValidationError) -> Response:
        return _answer(400, _malformed_told(error))

    @app.exception_handler(HTTPException)
    async def _http(_request: Request, error: HTTPException) -> Response:
        sentence = str(error.detail).rstrip(".") + "."
        return _answer(error.status_code, Trouble(problem=sentence))

    @app.exception_handler(Exception)
    async def _unforeseen(_request: Request, error: Exception) -> Response:
        name = type(error).__name__
        answer = _answer(
            500,
            Trouble(
                problem=f"Something went wrong that was not foreseen ({name}).",
                remedy="Try again; the terminal that the server runs in says more.",
            ),
        )
        # This is answered outside the guard, which dresses all others.
        answer.headers["content-security-policy"] = "default-src 'none'"
        answer.headers["x-content-type-options"] = "nosniff"
        answer.headers["cache-control"] = "no-store"
        return answer


def _malformed_told(error: RequestValidationError) -> Trouble:
    first = error.errors()[0]
    where = [str(part) for part in first.get("loc", ()) if part not in ("body",)]
    field = ".".join(where)
    message = str(first.get("msg", "it cannot be read"))
    name = f"The value {field!r}" if field else "What was sent"
    return Trouble(
        problem=f"{name} cannot be used: {message[0].lower()}{message[1:]}.",
        remedy="Give it as the form asks.",
        field=field,
    )


def _answer(status: int, trouble: Trouble) -> Response:
    return JSONResponse(trouble.model_dump(), status_code=status)
