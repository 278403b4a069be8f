"""Codes: every error, reason, advice and exit status has one, and the README explains it."""

import ast
import re
from collections.abc import Iterator

import pytest

from dyecast_api import exit_status
from dyecast_inspect.inspection import Verdict
from dyecast_shared import errors
from dyecast_shared.errors import DyecastError
from house.codes_table import MODULES, codes_table, leaf_errors
from house.source_tree import ROOT, package_modules, place, syntax_tree

README = (ROOT / "README.md").read_text(encoding="utf-8")
TREE_LINE = re.compile(r"^[│├└─ ]*(?P<name>[A-Z]\w+)\s+(?P<code>[a-z-]+)$")
SLUG = re.compile(r"[a-z]+(-[a-z]+)*")


def drawn_in_tree() -> dict[str, str]:
    """Return class name and code of each leaf drawn in the module docstring of the errors."""
    lines = map(TREE_LINE.match, (errors.__doc__ or "").splitlines())
    return {line["name"]: line["code"] for line in lines if line}


def all_errors(error: type[DyecastError] = DyecastError) -> Iterator[type[DyecastError]]:
    yield error
    for kind in error.__subclasses__():
        yield from all_errors(kind)


def codes_written_for(*names: str) -> dict[str, str]:
    """Return the literal first arguments of calls to `names` in the packages, each with its place."""
    return {
        first.value: place(path, node)
        for path in package_modules()
        for node in ast.walk(syntax_tree(path))
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id in names
        for first in node.args[:1]
        if isinstance(first, ast.Constant) and isinstance(first.value, str)
    }


def test_every_error_that_is_raised_is_drawn_in_the_tree_with_its_code() -> None:
    assert drawn_in_tree() == {error.__name__: error.code for error in leaf_errors()}


def test_no_two_errors_share_a_code() -> None:
    codes = [error.code for error in all_errors()]
    assert sorted(set(codes)) == sorted(codes)


@pytest.mark.parametrize("error", list(leaf_errors()), ids=lambda error: error.code)
def test_an_error_has_a_readable_code_and_an_advice(error: type[DyecastError]) -> None:
    assert SLUG.fullmatch(error.code)
    assert error.default_advice.endswith(".")


def test_every_error_lives_in_the_tree_of_the_ground_floor() -> None:
    assert {error.__module__ for error in all_errors()} == set(MODULES)


def test_the_readme_explains_every_error_in_the_errors_own_words() -> None:
    assert f"<!-- codes -->\n{codes_table()}\n<!-- /codes -->" in README


def test_the_readme_names_the_kinds_of_errors() -> None:
    assert [error.code for error in all_errors() if f"`{error.code}`" not in README] == []


def test_the_readme_explains_every_reason_advice_and_fault() -> None:
    codes = codes_written_for("Reason", "Advice", "Fault")
    assert codes
    assert {code: where for code, where in codes.items() if f"| `{code}` |" not in README} == {}


def test_the_readme_explains_every_verdict() -> None:
    assert [verdict for verdict in Verdict if f"| `{verdict}` |" not in README] == []


def test_the_readme_explains_every_exit_status() -> None:
    statuses = {
        value for name, value in vars(exit_status).items() if name.isupper() and isinstance(value, int)
    }
    explained = {int(status) for status in re.findall(r"^\| (\d+) \|", README, re.MULTILINE)}
    assert explained == statuses
