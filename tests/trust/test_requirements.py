"""The table of security requirements in DEVELOPERS.md: numbers as the standard writes them, and every test named is there."""

from __future__ import annotations

import re

from tests.trust.test_faults import ROOT, named_in

DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text("utf-8")
ROW = re.compile(r"^\| ((?:\d+\.\d+\.\d+(?: to |, )?)+) ([^|]*)\|([^|]+)\|([^|]+)\|$", re.MULTILINE)
NAMED = re.compile(r"`(tests/[\w/]+\.py)(?:::(test_\w+))?`")
# chapters of OWASP ASVS 5.0 that have no part here: sign-in by another party's account, and calls between browsers
LEFT_OUT = {10, 17}


def rows() -> list[tuple[list[tuple[int, ...]], str, str]]:
    table = DEVELOPERS[DEVELOPERS.index("**OWASP ASVS 5.0, level 2**"):]
    table = table[: table.index("\n## ")]
    lines = [line for line in table.splitlines() if re.match(r"\| \d", line)]
    found = [match for line in lines for match in [ROW.match(line)] if match]
    assert len(found) == len(lines), "a line that is no row"
    return [
        ([tuple(map(int, number.split("."))) for number in re.findall(r"\d+\.\d+\.\d+", match[1])], match[3], match[4])
        for match in found
    ]


def test_every_test_named_is_there():
    for numbers, _, shown in rows():
        named = NAMED.findall(shown)
        assert named, numbers
        for path, function in named:
            assert named_in(path), path
            assert not function or function in named_in(path), (path, function)


def test_numbers_rise_and_stand_once():
    numbers = [number for some, _, _ in rows() for number in some]
    assert len(numbers) == len(set(numbers)) > 70
    assert [some[0] for some, _, _ in rows()] == sorted(some[0] for some, _, _ in rows())


def test_every_chapter_is_dealt_with():
    told = {number[0] for some, _, _ in rows() for number in some}
    assert told | LEFT_OUT == set(range(1, 18))


def test_every_row_says_how():
    assert all(len(how.split()) > 3 for _, how, _ in rows())
