"""How long files and functions may be."""

import ast
import statistics
from pathlib import Path

import pytest

from house.source_tree import FunctionNode, functions_of, modules_of_tests, package_modules, place

LONGEST_FILE = 500
MEDIAN_FILE = 180
LONGEST_BODY = 60
NINE_IN_TEN_BODIES = 35
MEDIAN_BODY = 10
"""Lines. Our own bar: what the best of the open-source projects we looked at reach, each in one column."""

PARTS = {"packages": package_modules(), "tests": modules_of_tests()}

each_part = pytest.mark.parametrize("modules", PARTS.values(), ids=PARTS.keys())


def lines_of(path: Path) -> int:
    return len(path.read_text(encoding="utf-8").splitlines())


def body_lines(function: FunctionNode) -> int:
    """Count the lines of a function's body without its docstring."""
    body = function.body if ast.get_docstring(function) is None else function.body[1:]
    return (body[-1].end_lineno or 0) - body[0].lineno + 1 if body else 0


def all_body_lines(modules: tuple[Path, ...]) -> list[int]:
    return [body_lines(function) for module in modules for function in functions_of(module)]


@each_part
def test_no_file_is_too_long_to_read_in_one_sitting(modules: tuple[Path, ...]) -> None:
    assert [place(path) for path in modules if lines_of(path) > LONGEST_FILE] == []


@each_part
def test_half_of_the_files_are_short(modules: tuple[Path, ...]) -> None:
    assert statistics.median(map(lines_of, modules)) <= MEDIAN_FILE


@each_part
def test_no_function_is_too_long_to_see_at_once(modules: tuple[Path, ...]) -> None:
    long = [
        f"{place(path, function)} {function.name}"
        for path in modules
        for function in functions_of(path)
        if body_lines(function) > LONGEST_BODY
    ]
    assert long == []


@each_part
def test_most_functions_are_short(modules: tuple[Path, ...]) -> None:
    lengths = all_body_lines(modules)
    assert statistics.median(lengths) <= MEDIAN_BODY
    assert statistics.quantiles(lengths, n=10)[-1] <= NINE_IN_TEN_BODIES


def test_a_docstring_does_not_count_as_body() -> None:
    source = 'def f():\n    """One.\n\n    Two.\n    """\n    a = 1\n    return a\n'
    (function,) = ast.parse(source).body
    assert isinstance(function, ast.FunctionDef)
    assert body_lines(function) == 2
