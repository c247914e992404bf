"""Hold the tree of errors to its drawing and its promises."""

from __future__ import annotations

import re

import pytest

from wherestood import errors
from wherestood.errors import WherestoodError

DRAWN = re.compile(r"^(?P<before>[│ ├└─]*)(?P<name>[A-Z]\w*Error)\b")
STEP_COLUMNS = 4


def drawn_tree() -> dict[str, str | None]:
    """Return each drawn class with its parent, from the module's docstring."""
    parents: dict[str, str | None] = {}
    branch: list[str] = []
    assert errors.__doc__ is not None
    drawing = errors.__doc__.split("::", 1)[1].split("A message", 1)[0]
    lines = [line.removeprefix("    ") for line in drawing.splitlines()]
    for line in lines:
        found = DRAWN.match(line)
        if found is None:
            continue
        depth = len(found["before"]) // STEP_COLUMNS
        del branch[depth:]
        parents[found["name"]] = branch[-1] if branch else None
        branch.append(found["name"])
    return parents


def defined_tree() -> dict[str, str | None]:
    """Return each class the module defines with its parent's name."""
    classes = [
        thing
        for thing in vars(errors).values()
        if isinstance(thing, type) and thing.__module__ == errors.__name__
    ]
    return {
        thing.__name__: (
            None if thing is WherestoodError else thing.__bases__[0].__name__
        )
        for thing in classes
    }


def test_drawn_tree_is_the_tree_of_classes() -> None:
    assert drawn_tree() == defined_tree()


def test_every_error_is_exported_in_order() -> None:
    assert errors.__all__ == sorted(defined_tree())


@pytest.mark.parametrize("name", errors.__all__)
def test_message_says_the_problem_then_the_remedy(name: str) -> None:
    raised = getattr(errors, name)("It is too dark.", "Open the shutter.")
    assert isinstance(raised, WherestoodError)
    assert str(raised) == "It is too dark. Open the shutter."
    assert (raised.problem, raised.remedy) == ("It is too dark.", "Open the shutter.")


def test_remedy_may_be_left_out() -> None:
    assert str(WherestoodError("It is too dark.")) == "It is too dark."
