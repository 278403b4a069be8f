"""No file names a place that exists on one machine only, or where packages are fetched from."""

import re

import pytest

from house.source_tree import place, text_files

REGISTRY_HOSTS = (
    "pypi" + ".org",
    "python" + "hosted.org",
    "npm" + "js.org",
    "npm" + "js.com",
    "crates" + ".io",
)

MACHINE_FOLDERS = ("work", "tmp", "home", "root", "Users", "opt", "mnt", "srv")
"""Folders at the top of a machine's disk whose content differs from machine to machine."""

MACHINE_PATH = re.compile(rf"(?<![\w.}}:/~>-])/(?:{'|'.join(MACHINE_FOLDERS)})/\w")


def lines_that_match(pattern: re.Pattern[str]) -> list[str]:
    return [
        f"{place(path)}:{number} {line.strip()}"
        for path in text_files()
        for number, line in enumerate(path.read_text(encoding="utf-8").splitlines(), start=1)
        if pattern.search(line)
    ]


def test_no_file_names_a_package_registry() -> None:
    assert lines_that_match(re.compile("|".join(map(re.escape, REGISTRY_HOSTS)))) == []


def test_no_file_names_a_path_of_one_machine() -> None:
    assert lines_that_match(MACHINE_PATH) == []


@pytest.mark.parametrize("folder", MACHINE_FOLDERS)
def test_a_path_of_one_machine_is_recognised(folder: str) -> None:
    assert MACHINE_PATH.search(f'open("/{folder}/file")')
    assert MACHINE_PATH.search(f"see /{folder}/file")
    assert not MACHINE_PATH.search(f"here/{folder}/file")


def test_text_files_are_found() -> None:
    names = {path.name for path in text_files()}
    assert {"README.md", "pyproject.toml", "pins.txt", "run", "errors.py", ".gitignore"} <= names
