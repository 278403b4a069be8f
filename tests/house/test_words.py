"""Errors that pages and programs see speak of fields, never of the command line's options and commands."""

import ast
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
import typer.main

from dyecast_api.cli import app
from dyecast_api.command_words import WORDS_OF_CODE, WORDS_OF_FIELD
from house.source_tree import ROOT

API = ROOT / "api/dyecast_api"
SEEN_BY_ALL = (
    *sorted(path for name in ("batches", "press_log", "press_plan", "records", "server", "worth")
            for path in (API / name).rglob("*.py")),
    *sorted((ROOT / "calibration").rglob("*.py")),
    *sorted((ROOT / "shared").rglob("*.py")),
)  # fmt: skip
"""What raises errors or writes sentences below the pages as well as below the command line."""

OF_THE_COMMAND_LINE = re.compile(r"(?<![\w{;-])(?<!var\()--[a-z][a-z-]*(?![\w-]*:)|'dyecast [a-z]+")
"""An option (not a style's variable), or a command in quotes."""

ONLY_THE_COMMAND_LINES = {"'dyecast calibrate"}
"""The advice of `ShopProfileEmpty`: shop profiles are taught on the command line alone."""


def sentences(path: Path) -> Iterator[str]:
    """Yield every text of a module that is no docstring, parts of f-strings by themselves."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    alone = {id(node.value) for node in ast.walk(tree) if isinstance(node, ast.Expr)}
    for node in ast.walk(tree):
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in alone:
            yield node.value


@pytest.mark.parametrize("path", SEEN_BY_ALL, ids=lambda path: path.stem)
def test_no_sentence_below_the_command_line_names_its_options(path: Path) -> None:
    named = {found[0] for text in sentences(path) for found in OF_THE_COMMAND_LINE.finditer(text)}
    assert named - ONLY_THE_COMMAND_LINES == set()


def test_the_check_sees_an_option_and_a_command_and_no_style() -> None:
    assert OF_THE_COMMAND_LINE.search("Say why with --reason.")
    assert OF_THE_COMMAND_LINE.search("See 'dyecast press list'.")
    assert not OF_THE_COMMAND_LINE.search(".chart{--sheet:#fff;--ink:#000}")
    assert not OF_THE_COMMAND_LINE.search("--lost:#96380a}text{fill:var(--lost)}")


def test_pages_name_no_command_but_where_one_is_typed_on_another_computer() -> None:
    for path in sorted((API / "server/pages/templates").glob("*.html")):
        if path.name in {"devices.html", "sign_in.html"}:  # a program's token, and a forgotten passphrase
            continue
        assert not re.search(r"dyecast [a-z]+ |\s--[a-z]", path.read_text(encoding="utf-8")), path.name


def known_words(command: Any) -> Iterator[str]:
    """Yield every option of a command and of those below it."""
    for parameter in command.params:
        yield from parameter.opts
    for below in getattr(command, "commands", {}).values():
        yield from known_words(below)


def test_what_the_command_line_adds_can_be_typed() -> None:
    options = set(known_words(typer.main.get_command(app)))
    for words in (*WORDS_OF_FIELD.values(), *WORDS_OF_CODE.values()):
        assert set(re.findall(r"--[a-z-]+", words)) <= options
        for line in re.findall(r"'dyecast ([a-z -]+)'", words):
            command: Any = typer.main.get_command(app)
            for name in line.split():
                command = command.commands[name]


def test_the_command_line_adds_words_to_fields_that_are_asked_for() -> None:
    told = "".join(path.read_text(encoding="utf-8") for path in API.rglob("*.py"))
    kinds = {"press", "blank", "recipe"}  # `named` asks for the kind of thing that is not there
    assert [name for name in WORDS_OF_FIELD if f'"{name}"' not in told.replace(f'    "{name}": ', "")] == []
    assert kinds <= set(WORDS_OF_FIELD)
