"""The walls of the house: contracts between layers and apps, and a core that needs nothing but Python."""

from __future__ import annotations

import ast
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
RULES = sorted(path for path in ROOT.glob("*/*/rules/**/*.py") if path.name != "__init__.py")
CLOCKS = {"now", "today", "utcnow", "time_ns", "monotonic"}


def test_the_import_contracts_are_kept():
    done = subprocess.run(
        [sys.executable, "-c", "import sys; from importlinter.cli import lint_imports_command; lint_imports_command()"],
        cwd=ROOT, capture_output=True, text=True, check=False,
    )
    assert done.returncode == 0, done.stdout + done.stderr


def test_every_rule_imports_in_a_bare_interpreter():
    names = [".".join(path.relative_to(ROOT).with_suffix("").parts) for path in RULES]
    code = (
        "import sys, importlib\n"
        f"for name in {names!r}: importlib.import_module(name)\n"
        "bad = {'django', 'rest_framework', 'celery', 'redis', 'psycopg'} & set(sys.modules)\n"
        "assert not bad, bad\n"
    )
    # -I: no environment, no settings; only the project's own folder on the path
    done = subprocess.run(
        [sys.executable, "-I", "-c", f"import sys; sys.path.insert(0, {str(ROOT)!r})\n{code}"],
        capture_output=True, text=True, check=False,
    )
    assert done.returncode == 0, done.stderr


@pytest.mark.parametrize("path", RULES, ids=lambda path: str(path.relative_to(ROOT)))
def test_a_rule_reads_no_clock_and_throws_no_dice(path: Path):
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute):
            assert node.func.attr not in CLOCKS, f"{path.name}:{node.lineno} reads the clock"
        if isinstance(node, ast.Import | ast.ImportFrom):
            module = node.module if isinstance(node, ast.ImportFrom) else node.names[0].name
            assert module not in {"random", "secrets", "socket", "os", "time"}, f"{path.name}:{node.lineno} {module}"
