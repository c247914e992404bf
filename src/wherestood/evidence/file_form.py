"""Hold the content of an evidence file to its published form."""

from __future__ import annotations

import json
from collections.abc import Iterator
from functools import cache
from importlib.resources import files
from typing import Any

import jsonschema

from wherestood.evidence.file_lines import Path
from wherestood.evidence.items.check import names_like

__all__ = ["FORM", "Fault", "evidence_schema", "faults_of"]

FORM = 1  # raised when a reader of the older form could misread the newer

#: Path, what is wrong, what to do.
Fault = tuple[Path, str, str]

_TYPES = {
    "number": "a number",
    "integer": "a whole number",
    "string": 'text in "quotes"',
    "boolean": "true or false",
    "array": "a list in [brackets]",
    "object": "a table",
}
_LIMITS = {
    "minimum": "at least",
    "maximum": "at most",
    "exclusiveMinimum": "above",
    "exclusiveMaximum": "below",
    "minItems": "a list of at least",
    "maxItems": "a list of at most",
    "minLength": "text of at least",
}


@cache
def evidence_schema() -> dict[str, Any]:
    """Return the JSON Schema (draft 2020-12) of what an evidence file holds."""
    text = (
        files("wherestood.evidence")
        .joinpath("evidence.schema.json")
        .read_text(encoding="utf-8")
    )
    schema: dict[str, Any] = json.loads(text)
    return schema


def faults_of(content: dict[str, Any]) -> Iterator[Fault]:
    """Give every place where a file's content departs from the form.

    Parameters
    ----------
    content : dict
        As `tomllib` reads it.
    """
    validator = jsonschema.Draft202012Validator(evidence_schema())
    for error in sorted(
        validator.iter_errors(content), key=lambda error: str(error.absolute_path)
    ):
        yield from _faults(error)


def _faults(error: jsonschema.ValidationError) -> Iterator[Fault]:
    path: Path = tuple(error.absolute_path)
    rule, value = error.validator, error.instance
    if rule == "additionalProperties":
        known = error.schema["properties"]
        for key in value:
            if key not in known:
                yield (
                    (*path, key),
                    f"the key {key!r} is not known",
                    names_like(key, known),
                )
    elif rule == "required":
        for key in error.validator_value:
            if key not in value:
                yield path, f"{key} is missing", f"Give {key}."
    elif rule == "oneOf":
        keys = [part["required"][0] for part in error.validator_value]
        given = [key for key in keys if key in value]
        words = ", ".join(keys)
        got = f"it has {' and '.join(given)}" if given else "it has none"
        yield path, f"one of {words} was expected, and {got}", "Give exactly one."
    elif rule == "not":
        yield (
            path,
            "feature and features are both given",
            "Give feature for one, features for several with weights.",
        )
    else:
        yield path, *_fault_of_value(error, path, value)


def _fault_of_value(
    error: jsonschema.ValidationError, path: Path, value: Any
) -> tuple[str, str]:
    rule, wanted = error.validator, error.validator_value
    name = _name(path)
    if rule == "type":
        kinds = [wanted] if isinstance(wanted, str) else wanted
        words = " or ".join(_TYPES[kind] for kind in kinds)
        return (
            f"{name} is {_shown(value)}; {words} was expected",
            f"Write {words}. {error.schema.get('description', '')}".strip(),
        )
    if rule == "enum":
        return f"{name} is {_shown(value)}, which is not known", names_like(
            str(value), map(str, wanted)
        )
    if rule == "const":
        return (
            f"{name} is {_shown(value)}; this program reads form {wanted}",
            f"Begin the file with: {name} = {wanted}",
        )
    return (
        f"{name} is {_shown(value)}; {_LIMITS.get(str(rule), rule)} {wanted} was "
        "expected",
        error.schema.get("description", ""),
    )


def _name(path: Path) -> str:
    """Return what a person calls a place in the file."""
    words = ""
    for part in path:
        if isinstance(part, int):
            words += f" {part + 1}" if words else f"{part + 1}"
        else:
            words = part
    return words or "the file"


def _shown(value: Any) -> str:
    text = json.dumps(value, ensure_ascii=False, default=str)
    return text if len(text) <= 40 else f"{text[:37]}..."
