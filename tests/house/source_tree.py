"""The work tree as the house-rule tests read it."""

import ast
import fnmatch
import tomllib
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[2]

PACKAGES = {
    "shared": "dyecast_shared",
    "calibration": "dyecast_calibration",
    "inspect": "dyecast_inspect",
    "api": "dyecast_api",
}
"""The package in each source root, the lowest layer first."""

TEXT_SUFFIXES = (".py", ".md", ".toml", ".txt", ".json", ".sh", ".html", ".css", ".js", ".svg", ".yml")

FunctionNode = ast.FunctionDef | ast.AsyncFunctionDef


@cache
def ignored_names() -> tuple[str, ...]:
    """Return the patterns of names that git ignores, of which a work tree may hold any."""
    lines = (ROOT / ".gitignore").read_text(encoding="utf-8").split()
    return (".git", *(line.rstrip("/") for line in lines))


def is_ignored(name: str) -> bool:
    """Tell whether a file or folder of this name is no part of the project."""
    return any(fnmatch.fnmatch(name, pattern) for pattern in ignored_names())


def files_below(folder: Path = ROOT) -> Iterator[Path]:
    """Yield every file of the project below `folder`."""
    for path in sorted(folder.iterdir()):
        if is_ignored(path.name):
            continue
        if path.is_dir():
            yield from files_below(path)
        else:
            yield path


def text_files() -> list[Path]:
    """Return the project's text files: those of a known ending, scripts without one, and dotfiles."""
    return [
        path
        for path in files_below()
        if path.suffix in TEXT_SUFFIXES or path.name == "run" or path.name.startswith(".")
    ]


@cache
def package_modules() -> tuple[Path, ...]:
    """Return the Python files of the four packages."""
    folders = [ROOT / root / package for root, package in PACKAGES.items()]
    return tuple(path for folder in folders for path in files_below(folder) if path.suffix == ".py")


@cache
def modules_of_tests() -> tuple[Path, ...]:
    """Return the Python files of the tests, the scene maker and the benchmark."""
    return tuple(path for path in files_below(ROOT / "tests") if path.suffix == ".py")


@cache
def syntax_tree(path: Path) -> ast.Module:
    """Parse a file."""
    return ast.parse(path.read_text(encoding="utf-8"), filename=str(path))


def functions_of(path: Path) -> Iterator[FunctionNode]:
    """Yield every function and method of a file."""
    for node in ast.walk(syntax_tree(path)):
        if isinstance(node, FunctionNode):
            yield node


def place(path: Path, node: ast.AST | None = None) -> str:
    """Say where something stands, in a form that editors open."""
    line = f":{getattr(node, 'lineno', 1)}" if node is not None else ""
    return f"{path.relative_to(ROOT)}{line}"


@cache
def project_settings() -> dict[str, Any]:
    """Return pyproject.toml."""
    return tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
