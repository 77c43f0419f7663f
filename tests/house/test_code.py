"""Lint, types, sizes: the same checks a developer runs by hand."""

from __future__ import annotations

import ast
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
SOURCES = [
    path
    for top in ("clinic", "programs", "dashboards")
    for path in (ROOT / top).rglob("*.py")
    if "migrations" not in path.parts
]
TESTS = sorted((ROOT / "tests").rglob("*.py"))


def _run(*command: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run([sys.executable, "-m", *command], cwd=ROOT, capture_output=True, text=True, check=False)


def test_ruff_has_nothing_to_say():
    done = _run("ruff", "check", "--no-cache", ".")
    assert done.returncode == 0, done.stdout


def test_types_hold(tmp_path):
    done = _run("mypy", "--cache-dir", str(tmp_path))
    assert done.returncode == 0, done.stdout


def test_modules_and_functions_stay_small():
    too_long = [(str(path), lines) for path in SOURCES if (lines := len(path.read_text("utf-8").splitlines())) > 300]
    too_long += [(str(path), lines) for path in TESTS if (lines := len(path.read_text("utf-8").splitlines())) > 400]
    assert too_long == []
    for path in SOURCES:
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            if isinstance(node, ast.FunctionDef):
                length = (node.end_lineno or node.lineno) - node.lineno + 1
                assert length <= 60, f"{path}:{node.lineno} {node.name} has {length} lines"


def test_every_module_and_public_function_says_what_it_is_for():
    silent = []
    for path in SOURCES:
        if path.name in {"__init__.py", "apps.py"}:
            continue
        tree = ast.parse(path.read_text("utf-8"))
        if not ast.get_docstring(tree):
            silent.append(str(path))
        silent += [
            f"{path}:{node.name}"
            for node in tree.body
            if isinstance(node, ast.FunctionDef) and not node.name.startswith("_") and not ast.get_docstring(node)
        ]
    assert silent == []
