"""Hold the code to its layout and every page to the code it speaks of."""

from __future__ import annotations

import ast
import importlib.metadata
import json
import re
import subprocess
import sys
import tomllib
import zipfile
from functools import cache
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]
SOURCE = ROOT / "src" / "wherestood"
MODULES = sorted(SOURCE.rglob("*.py"))
PAGES = sorted([*ROOT.glob("*.md"), *(ROOT / "docs").rglob("*.md")])

LONGEST_FILE_LINES = 400  # beyond this a second subject is hiding in the file
BANNED_NAMES = {"common", "helper", "helpers", "manager", "misc", "util", "utils"}
# First words that look like a third person or a plural, and are imperatives.
IMPERATIVES_IN_S = {"Address", "Assess", "Bias", "Compress", "Cross", "Discuss"}
IMPERATIVES_IN_S |= {"Express", "Focus", "Guess", "Pass", "Press", "Process"}
NOT_IMPERATIVE = {"A", "An", "All", "Helper", "Helpers", "It", "Module", "The", "This"}
OTHER_SPELLINGS_OF_UNITS = re.compile(
    r"_(metres?|meters?|millimetres?|millimeters?|degrees?|radians?|pixels?"
    r"|seconds?|secs?|kilometres?|kilometers?|feet|foot|ft|inch|inches|px_mm)$"
)
PATH_IN_A_PAGE = re.compile(r"`((?:src|tests|docs|benchmarks|web)/[\w./-]*)`")
LINK_IN_A_PAGE = re.compile(r"\]\((?!https?:|mailto:|#)([^)#\s]+)")
MODULE_IN_A_PAGE = re.compile(r"`(wherestood(?:\.\w+)+)`")
TARGET_IN_A_PAGE = re.compile(r"`make ([a-z-]+)`")
TARGET = re.compile(r"^([a-z-]+):", re.MULTILINE)


def relative(path: Path) -> str:
    """Name a path as a reader of the repository does."""
    return path.relative_to(ROOT).as_posix()


def module_name(path: Path) -> str:
    """Return the dotted name of a source file."""
    parts = path.relative_to(SOURCE.parent).with_suffix("").parts
    return ".".join(part for part in parts if part != "__init__")


@cache
def names_defined(path: Path) -> set[str]:
    """Return what a module defines, imports or assigns outside its functions."""
    names: set[str] = set()
    waiting: list[ast.AST] = [*ast.parse(path.read_text(encoding="utf-8")).body]
    while waiting:
        node = waiting.pop()
        if isinstance(node, ast.FunctionDef | ast.ClassDef):
            names.add(node.name)
        elif isinstance(node, ast.Import | ast.ImportFrom):
            names.update(alias.asname or alias.name for alias in node.names)
        elif isinstance(node, ast.If | ast.Try):
            # Names met only by type checkers are loaded late and count too.
            waiting.extend(ast.iter_child_nodes(node))
        elif isinstance(node, ast.stmt):
            names.update(
                found.id
                for found in ast.walk(node)
                if isinstance(found, ast.Name) and isinstance(found.ctx, ast.Store)
            )
    return names


@pytest.mark.parametrize("path", MODULES, ids=relative)
def test_module_states_its_one_subject_as_an_imperative_sentence(path: Path) -> None:
    docstring = ast.get_docstring(ast.parse(path.read_text(encoding="utf-8")))
    assert docstring, f"{relative(path)} has no docstring"
    first_line = docstring.splitlines()[0]
    assert first_line.endswith("."), f"not one sentence on one line: {first_line!r}"
    first_word = first_line.split()[0].rstrip(".,")
    assert first_word[0].isupper(), f"not a sentence: {first_line!r}"
    assert first_word not in NOT_IMPERATIVE, f"not an imperative: {first_line!r}"
    assert not first_word.endswith("s") or first_word in IMPERATIVES_IN_S, (
        f"not an imperative: {first_line!r}"
    )


def test_no_module_is_named_for_leftovers() -> None:
    named = [relative(path) for path in MODULES if path.stem in BANNED_NAMES]
    named += [relative(p) for p in SOURCE.rglob("*") if p.name in BANNED_NAMES]
    assert named == []


def test_no_file_is_long_enough_to_hide_a_second_subject() -> None:
    lengths = {
        relative(path): len(path.read_text(encoding="utf-8").splitlines())
        for path in MODULES
    }
    assert {n: k for n, k in lengths.items() if k > LONGEST_FILE_LINES} == {}


@pytest.mark.parametrize("path", MODULES, ids=relative)
def test_every_export_exists(path: Path) -> None:
    for node in ast.parse(path.read_text(encoding="utf-8")).body:
        if (
            isinstance(node, ast.Assign)
            and isinstance(node.targets[0], ast.Name)
            and node.targets[0].id == "__all__"
        ):
            assert set(ast.literal_eval(node.value)) <= names_defined(path)


@pytest.mark.parametrize("path", MODULES, ids=relative)
def test_units_have_one_spelling(path: Path) -> None:
    tree = ast.parse(path.read_text(encoding="utf-8"))
    named = [
        (node.arg, node.annotation)
        for node in ast.walk(tree)
        if isinstance(node, ast.arg)
    ]
    named += [
        (node.target.id, node.annotation)
        for node in ast.walk(tree)
        if isinstance(node, ast.AnnAssign) and isinstance(node.target, ast.Name)
    ]
    # A yes or no about units ("are these feet?") is no quantity.
    names = {name for name, kind in named if not (kind and ast.unparse(kind) == "bool")}
    assert sorted(n for n in names if OTHER_SPELLINGS_OF_UNITS.search(n)) == []


def test_every_package_imported_is_a_declared_dependency() -> None:
    imported: dict[str, set[str]] = {}
    for path in MODULES:
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Import):
                found = [alias.name for alias in node.names]
            elif isinstance(node, ast.ImportFrom):
                found = [node.module or ""]
            else:
                continue
            for name in found:
                imported.setdefault(name.split(".")[0], set()).add(relative(path))
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    declared = {
        canonical(re.split(r"[\[<>=!~; ]", entry)[0])
        for entry in project["project"]["dependencies"]
    }
    providers = importlib.metadata.packages_distributions()
    undeclared = {
        name: sorted(files)
        for name, files in imported.items()
        if name not in sys.stdlib_module_names
        and name != "wherestood"
        and declared.isdisjoint(canonical(p) for p in providers.get(name, [name]))
    }
    assert undeclared == {}


def canonical(distribution: str) -> str:
    """Return a distribution's name in the one form used for comparing."""
    return re.sub(r"[-_.]+", "-", distribution).lower()


@pytest.mark.parametrize("lock", ["requirements.lock", "requirements-build.lock"])
def test_lock_pins_every_package_by_hash_and_names_no_index(lock: str) -> None:
    text = (ROOT / lock).read_text(encoding="utf-8")
    lines = [line for line in text.splitlines() if not line.lstrip().startswith("#")]
    pins = [line for line in lines if line and not line.startswith(" ")]
    assert len(pins) > 5
    assert [pin for pin in pins if not re.match(r"^[\w.-]+==\S+ .*\\$", pin)] == []
    rest = {line.split(":")[0].strip() for line in lines if line.startswith(" ")}
    assert rest == {"--hash=sha256"}
    assert not re.search(r"https?:|file:|--(extra-)?index|--find-links| @ ", text)


def test_lock_of_the_page_pins_every_package_by_hash_and_names_no_address() -> None:
    lock = json.loads((ROOT / "web" / "package-lock.json").read_text(encoding="utf-8"))
    packages = {name: one for name, one in lock["packages"].items() if name}
    assert packages
    assert [name for name, one in packages.items() if "integrity" not in one] == []
    assert [name for name, one in packages.items() if "resolved" in one] == []


def test_lock_holds_every_declared_dependency() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    declared = [
        *project["project"]["dependencies"],
        *project["project"]["optional-dependencies"]["dev"],
    ]
    names = {canonical(re.split(r"[\[<>=!~; ]", entry)[0]) for entry in declared}
    text = (ROOT / "requirements.lock").read_text(encoding="utf-8")
    locked = {canonical(name) for name in re.findall(r"^([\w.-]+)==", text, re.M)}
    assert sorted(names - locked) == []


def test_wheel_carries_the_data_files_and_nothing_but_the_package(
    tmp_path: Path,
) -> None:
    subprocess.run(
        [sys.executable, "-m", "hatchling", "build", "-t", "wheel", "-d", tmp_path],
        cwd=ROOT,
        check=True,
        capture_output=True,
    )
    (wheel,) = tmp_path.glob("*.whl")
    with zipfile.ZipFile(wheel) as archive:
        packed = {name for name in archive.namelist() if ".dist-info/" not in name}
    kept = {
        path.relative_to(SOURCE.parent).as_posix()
        for path in SOURCE.rglob("*")
        if path.is_file() and "__pycache__" not in path.parts
    }
    assert packed == kept
    assert "wherestood/py.typed" in packed


@pytest.mark.parametrize("page", PAGES, ids=relative)
def test_page_names_only_paths_that_exist(page: Path) -> None:
    text = page.read_text(encoding="utf-8")
    named = {ROOT / found for found in PATH_IN_A_PAGE.findall(text)}
    named |= {page.parent / found for found in LINK_IN_A_PAGE.findall(text)}
    assert sorted(str(path) for path in named if not path.exists()) == []


@pytest.mark.parametrize("page", PAGES, ids=relative)
def test_page_names_only_modules_and_names_that_exist(page: Path) -> None:
    defined = {module_name(path): names_defined(path) for path in MODULES}
    dead = []
    for found in sorted(set(MODULE_IN_A_PAGE.findall(page.read_text("utf-8")))):
        owner, _, name = found.rpartition(".")
        if found not in defined and name not in defined.get(owner, set()):
            dead.append(found)
    assert dead == []


@pytest.mark.parametrize("page", PAGES, ids=relative)
def test_page_names_only_make_targets_that_exist(page: Path) -> None:
    targets = set(TARGET.findall((ROOT / "Makefile").read_text(encoding="utf-8")))
    named = set(TARGET_IN_A_PAGE.findall(page.read_text(encoding="utf-8")))
    assert sorted(named - targets) == []
