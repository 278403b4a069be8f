"""What lies where: the top level, the source roots, and what an installation holds."""

import importlib
import os
import sysconfig
from pathlib import Path

import pytest

from house.source_tree import PACKAGES, ROOT, files_below, is_ignored

TOP_LEVEL = {"README.md", "DEVELOPERS.md", "LICENSE", "pyproject.toml", "tests", *PACKAGES}


def names_in(folder: Path) -> set[str]:
    return {path.name for path in folder.iterdir() if not is_ignored(path.name)}


def test_the_top_level_holds_the_agreed_names_and_dotfiles_only() -> None:
    assert {name for name in names_in(ROOT) if not name.startswith(".")} == TOP_LEVEL


def test_no_init_file_lies_in_inspect_where_it_would_shadow_pythons_own_module() -> None:
    assert not (ROOT / "inspect" / "__init__.py").exists()


@pytest.mark.parametrize(("root", "package"), PACKAGES.items())
def test_a_source_root_holds_its_package_only(root: str, package: str) -> None:
    assert names_in(ROOT / root) == {package}


@pytest.mark.parametrize("package", PACKAGES.values())
def test_a_package_tells_type_checkers_that_it_is_typed(package: str) -> None:
    assert (folder_of(package) / "py.typed").is_file()


def folder_of(package: str) -> Path:
    module = importlib.import_module(package)
    assert module.__file__ is not None
    return Path(module.__file__).resolve().parent


@pytest.mark.parametrize(("root", "package"), PACKAGES.items())
def test_tests_import_the_wheel_where_they_say_so_and_nothing_but_ours_elsewhere(
    root: str, package: str
) -> None:
    installed = Path(sysconfig.get_path("purelib")).resolve() / package
    if os.environ.get("DYECAST_TEST_WHEEL"):
        assert folder_of(package) == installed
    else:
        assert folder_of(package) in (installed, ROOT / root / package)


@pytest.mark.parametrize(("root", "package"), PACKAGES.items())
def test_an_installation_holds_every_file_of_the_package_as_it_is(root: str, package: str) -> None:
    source, installed = ROOT / root / package, folder_of(package)
    there = {path.relative_to(installed) for path in files_below(installed)}
    here = {path.relative_to(source): path for path in files_below(source)}
    assert there == set(here)
    changed = [
        str(name) for name, path in here.items() if path.read_bytes() != (installed / name).read_bytes()
    ]
    assert not changed


@pytest.mark.parametrize("script", ["tests/run", ".ci/run"])
def test_a_script_can_be_started_by_its_name(script: str) -> None:
    assert os.access(ROOT / script, os.X_OK)
    assert (ROOT / script).read_text(encoding="utf-8").startswith("#!/usr/bin/env bash\n")


def test_ci_runs_what_developers_run() -> None:
    assert "tests/run" in (ROOT / ".ci" / "run").read_text(encoding="utf-8")
