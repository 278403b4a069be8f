"""Whatever is public says what it is."""

import ast
from collections.abc import Iterator
from pathlib import Path

from house.source_tree import FunctionNode, modules_of_tests, package_modules, place, syntax_tree

Documented = ast.Module | ast.ClassDef | ast.FunctionDef | ast.AsyncFunctionDef


def public_parts(node: ast.Module | ast.ClassDef) -> Iterator[ast.ClassDef | FunctionNode]:
    """Yield the public classes and functions of a module or class, and their public methods."""
    for child in node.body:
        if isinstance(child, ast.ClassDef | FunctionNode) and not child.name.startswith("_"):
            yield child
            if isinstance(child, ast.ClassDef):
                yield from public_parts(child)


def undocumented(path: Path) -> Iterator[str]:
    module = syntax_tree(path)
    nodes: list[Documented] = [module, *public_parts(module)]
    for node in nodes:
        if not (ast.get_docstring(node) or "").strip():
            yield f"{place(path, node)} {getattr(node, 'name', 'the module')}"


def test_every_public_module_class_and_function_has_a_docstring() -> None:
    assert [name for path in package_modules() for name in undocumented(path)] == []


def test_every_file_of_the_tests_says_what_it_is_about() -> None:
    silent = [place(path) for path in modules_of_tests() if not ast.get_docstring(syntax_tree(path))]
    assert [path for path in silent if not path.endswith("__init__.py")] == []
