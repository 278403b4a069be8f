"""Every module of the packages can be imported alone and in peace, and the layers hold."""

import subprocess
import sys

import pytest

from house.source_tree import PACKAGES, ROOT, package_modules, project_settings


def module_names(package: str) -> list[str]:
    root = next(root for root, name in PACKAGES.items() if name == package)
    folder = ROOT / root
    return [
        ".".join(path.relative_to(folder).with_suffix("").parts).removesuffix(".__init__")
        for path in package_modules()
        if path.is_relative_to(folder) and path.name != "__main__.py"
    ]


@pytest.mark.parametrize("package", PACKAGES.values())
def test_importing_a_package_warns_of_nothing(package: str) -> None:
    program = "\n".join(f"import {name}" for name in module_names(package))
    answer = subprocess.run(
        [sys.executable, "-W", "error", "-c", program], capture_output=True, text=True, check=False
    )
    assert (answer.returncode, answer.stdout, answer.stderr) == (0, "", "")


@pytest.mark.parametrize("package", PACKAGES.values())
def test_a_package_loads_none_of_the_packages_above_it(package: str) -> None:
    below = list(PACKAGES.values())
    above = below[below.index(package) + 1 :]
    imports = "\n".join(f"import {name}" for name in module_names(package))
    program = f"import sys\n{imports}\nsys.exit(' '.join(set({above}) & set(sys.modules)) or None)"
    answer = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=False)
    assert answer.stderr == ""


def test_import_linter_guards_the_same_layers() -> None:
    (contract,) = project_settings()["tool"]["importlinter"]["contracts"]
    assert contract["type"] == "layers"
    assert contract["layers"] == list(reversed(PACKAGES.values()))
