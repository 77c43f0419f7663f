"""What comes from others: every package at one version with its hashes, from nowhere in particular, under a licence that is
known; and code that a security rule speaks against is found."""

from __future__ import annotations

import importlib.metadata
import re
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
LOCKS = {"run": ROOT / ".locks/run.txt", "test": ROOT / ".locks/test.txt"}
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]
# what may be installed beside a program under the MIT licence, by the words of SPDX or of the package itself; the weak
# copyleft of psycopg, tqdm and fido2 is kept by importing them unchanged
KNOWN = {
    "0BSD", "Apache Software License", "Apache-2.0", "BSD", "BSD 3-Clause", "BSD License", "BSD-2-Clause", "BSD-3-Clause",
    "CC0-1.0", "LGPL-3.0-only", "MIT", "MIT License", "MIT-0", "MPL-2.0", "Mozilla Public License 2.0 (MPL 2.0)", "PSF-2.0",
    "Zlib",
}
# packages whose own data name no licence of the list, looked up in the package by hand
READ_BY_HAND = {"qrcode": "BSD-3-Clause; what it was made from is MIT, and the other entry is the note of a trade mark"}


def entries(lock: str) -> dict[str, str]:
    """Each requirement of a lock by name, with all that belongs to it."""
    text = re.sub(r"^\s*#.*\n", "", LOCKS[lock].read_text("utf-8"), flags=re.MULTILINE)
    found = re.split(r"\n(?=\S)", text.strip())
    return {re.match(r"[\w.-]+", entry)[0].lower().replace("_", "-"): entry for entry in found}


@pytest.mark.parametrize("lock", LOCKS)
def test_every_package_is_pinned_by_version_and_hash(lock):
    for name, entry in entries(lock).items():
        assert re.match(r"[\w.-]+==[\w.!+]+( ;[^\n]*)? \\\n", entry), name
        assert re.findall(r"--hash=sha256:[0-9a-f]{64}", entry), name


@pytest.mark.parametrize("lock", LOCKS)
def test_a_lock_names_no_place_that_packages_come_from(lock):
    assert not re.search(r"https?://|file:|^--", LOCKS[lock].read_text("utf-8"), re.MULTILINE)   # no place, no option


@pytest.mark.parametrize(
    ("lock", "asked"),
    [
        ("run", PROJECT["dependencies"]),
        ("test", PROJECT["dependencies"] + PROJECT["optional-dependencies"]["test"]),
    ],
)
def test_whatever_the_project_asks_for_is_locked(lock, asked):
    names = {re.match(r"[\w.-]+", one)[0].lower().replace("_", "-") for one in asked}
    assert names - entries(lock).keys() == set()


def licence(name: str) -> set[str]:
    """The licences that a package says it is under."""
    told = importlib.metadata.metadata(name)
    plain = told.get("License-Expression") or ", ".join(
        line.rpartition("::")[2].strip() for line in told.get_all("Classifier", []) if line.startswith("License ::")
    ) or (told.get("License") or "").strip()
    return {part.strip() for part in re.split(r" AND | OR |,(?! V)", plain) if part.strip()}


def test_every_licence_of_what_runs_is_known():
    unknown = {}
    for name in entries("run"):
        try:
            told = licence(name)
        except importlib.metadata.PackageNotFoundError:
            continue   # for another system or Python
        if name not in READ_BY_HAND and (not told or told - KNOWN):
            unknown[name] = told
    assert unknown == {}


def test_what_was_read_by_hand_is_still_needed():
    assert set(READ_BY_HAND) <= entries("run").keys()


@pytest.mark.parametrize(
    ("line", "rule"),
    [
        ("eval(input())", "S307"), ("subprocess.run(name, shell=True)", "S602"), ("pickle.loads(name)", "S301"),
        ("cursor.execute(f'SELECT * FROM t WHERE n = {name}')", "S608"), ("mark_safe(name)", "S308"),
        ("yaml.load(name)", "S506"), ("hashlib.md5(name)", "S324"), ("requests.get(name, verify=False)", "S501"),
    ],
)
def test_the_scan_of_our_code_finds_what_it_is_for(line, rule):
    """The same settings as the house's; what is found makes `tests/house/test_code.py` fail."""
    code = (
        "import hashlib\nimport pickle\nimport subprocess\n\nimport requests\nimport yaml\n"
        f"from django.utils.safestring import mark_safe\n\n\ndef planted(name, cursor):\n    {line}\n"
    )
    done = subprocess.run(
        [sys.executable, "-m", "ruff", "check", "--no-cache", "--stdin-filename", "clinic/people/planted.py", "-"],
        cwd=ROOT, input=code, capture_output=True, text=True, check=False,
    )
    assert done.returncode == 1
    assert rule in done.stdout, done.stdout
