"""Other people's libraries: declared, pinned with hashes, and no more of them than are used."""

import ast
import re
import subprocess
import sys
from collections.abc import Iterator
from importlib.metadata import packages_distributions

import pytest
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

from house.source_tree import PACKAGES, ROOT, package_modules, project_settings, syntax_tree

PINS = (ROOT / "tests" / "pins.txt").read_text(encoding="utf-8")

HEAVY = (
    "alembic",
    "argon2",
    "cv2",
    "fastapi",
    "httpx2",
    "jinja2",
    "limits",
    "matplotlib",
    "numpy",
    "PIL",
    "pillow_heif",
    "prometheus_client",
    "pydantic_settings",
    "reportlab",
    "scipy",
    "segno",
    "simplejpeg",
    "sqlalchemy",
    "starlette",
    "structlog",
    "uvicorn",
)
"""Libraries that `--help` must not wait for."""

NEEDED_BY_OTHERS = {"python-multipart"}
"""Libraries that another one of ours imports by itself: starlette reads forms with it."""

TESTS_ONLY = ("colour", "hypothesis", "jsonschema", "matplotlib", "pypdfium2", "pytest", "skimage")
"""Libraries that the packages must not need."""


def requirements(extra: str | None = None) -> list[Requirement]:
    project = project_settings()["project"]
    listed = project["optional-dependencies"][extra] if extra else project["dependencies"]
    return [Requirement(line) for line in listed]


def pinned() -> dict[str, list[str]]:
    """Return the versions pinned for each library; there are several when the Python version decides."""
    versions: dict[str, list[str]] = {}
    for name, version in re.findall(r"^([\w.-]+)==([\w.+!]+)", PINS, re.MULTILINE):
        versions.setdefault(canonicalize_name(name), []).append(version)
    return versions


def is_import(node: ast.AST) -> bool:
    return isinstance(node, ast.Import | ast.ImportFrom)


def imported_names() -> Iterator[str]:
    """Yield the top-level name of every import in the packages."""
    for path in package_modules():
        for node in ast.walk(syntax_tree(path)):
            if isinstance(node, ast.Import):
                yield from (alias.name.partition(".")[0] for alias in node.names)
            elif isinstance(node, ast.ImportFrom) and node.level == 0:
                yield (node.module or "").partition(".")[0]


def foreign_names() -> set[str]:
    return set(imported_names()) - set(sys.stdlib_module_names) - set(PACKAGES.values())


def test_the_packages_import_what_is_declared_and_nothing_else() -> None:
    distributions = packages_distributions()
    used = {canonicalize_name(distributions[name][0]) for name in foreign_names()}
    declared = {canonicalize_name(requirement.name) for requirement in requirements()}
    assert used == declared - NEEDED_BY_OTHERS


def test_the_packages_need_no_library_of_the_tests() -> None:
    assert foreign_names().isdisjoint(TESTS_ONLY)


def test_only_the_press_model_waits_for_scipy_and_only_when_it_computes() -> None:
    for path in package_modules():
        tree = syntax_tree(path)
        assert not any("scipy" in ast.unparse(node) for node in tree.body if is_import(node))
        if any("scipy" in ast.unparse(node) for node in ast.walk(tree) if is_import(node)):
            assert path.parent.name == "press"


@pytest.mark.parametrize("requirement", [*requirements(), *requirements("test")], ids=str)
def test_a_dependency_has_a_bound_and_is_pinned_within_it(requirement: Requirement) -> None:
    versions = pinned()[canonicalize_name(requirement.name)]
    assert str(requirement.specifier).startswith((">=", "=="))
    assert all(map(requirement.specifier.contains, versions))


def test_every_pin_has_hashes_and_none_an_address() -> None:
    entries = re.split(r"\n(?=\S)", PINS.strip())
    assert len(entries) > len(requirements())
    assert [entry for entry in entries if not re.search(r"--hash=sha256:[0-9a-f]{64}", entry)] == []
    assert "://" not in PINS


def test_the_build_backend_is_pinned_once_and_for_all() -> None:
    (backend,) = project_settings()["build-system"]["requires"]
    assert re.fullmatch(r"hatchling==[\d.]+", backend)
    assert backend in map(str, requirements("test"))


def test_help_loads_no_heavy_library() -> None:
    program = (
        "import sys\nfrom dyecast_api.cli import app\n"
        "try: app(['--help'])\nexcept SystemExit: pass\n"
        f"print('loaded:', *set({HEAVY}) & set(sys.modules))"
    )
    answer = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True)
    *help_text, loaded = answer.stdout.strip().splitlines()
    assert "inspect" in "".join(help_text)
    assert loaded.strip() == "loaded:"
