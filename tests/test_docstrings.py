"""The public functions of the library say which errors they raise."""

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent / "colorcore"


def public(path: Path) -> Iterator[tuple[ast.FunctionDef, str]]:
    """Every public function and method with its docstring, a method's with that of its class."""
    for node in ast.parse(path.read_text(encoding="utf-8")).body:
        if isinstance(node, ast.FunctionDef) and not node.name.startswith("_"):
            yield node, ast.get_docstring(node) or ""
        if isinstance(node, ast.ClassDef) and not node.name.startswith("_"):
            words = ast.get_docstring(node) or ""
            for method in node.body:
                if isinstance(method, ast.FunctionDef) and not method.name.startswith("_"):
                    yield method, words + (ast.get_docstring(method) or "")


def raised(function: ast.FunctionDef) -> set[str]:
    """Names of the errors that a function raises itself."""
    errors = [node.exc for node in ast.walk(function) if isinstance(node, ast.Raise)]
    named = [error.func if isinstance(error, ast.Call) else error for error in errors]
    return {error.id for error in named if isinstance(error, ast.Name) and "Error" in error.id}


@pytest.mark.parametrize("path", sorted(ROOT.rglob("*.py")), ids=lambda p: str(p.relative_to(ROOT)))
def test_errors_are_told(path: Path) -> None:
    for function, words in public(path):
        for error in sorted(raised(function)):
            assert error in words, f"{path}:{function.lineno} does not say that it raises {error}"


def test_the_check_finds_what_is_not_told(tmp_path: Path) -> None:
    module = tmp_path / "module.py"
    module.write_text('def f():\n    """Do."""\n    raise ValueError("no")\n', encoding="utf-8")
    ((function, words),) = public(module)
    assert raised(function) == {"ValueError"}
    assert "ValueError" not in words
