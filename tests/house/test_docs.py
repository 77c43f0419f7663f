"""Both documents say what is true: every path exists, every setting, command and app is named."""

from __future__ import annotations

import re
import subprocess
from pathlib import Path

import pytest
from django.apps import apps

ROOT = Path(__file__).resolve().parents[2]
README = (ROOT / "README.md").read_text("utf-8")
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text("utf-8")
TOP_LEVEL = {
    "README.md", "DEVELOPERS.md", "manage.py", "pyproject.toml", "clinic", "programs", "dashboards", "tests", "fixtures",
    "docker-compose.yml", "LICENSE",
}
PATH = re.compile(r"`((?:clinic|programs|dashboards|tests|fixtures|\.ci|\.locks|\.docker)/[\w./*-]*)`")
MADE_WHEN_RUN = {".data/", ".venv"}


def _sources() -> list[Path]:
    folders = ("clinic", "programs", "dashboards")
    return [*(path for top in folders for path in ROOT.glob(f"{top}/**/*.py")), ROOT / "manage.py"]


def test_every_path_in_the_documents_exists():
    named = {match for text in (README, DEVELOPERS) for match in PATH.findall(text)}
    assert len(named) > 10
    assert {path for path in named if not list(ROOT.glob(path.rstrip("/")))} == set()


def test_every_setting_read_from_the_environment_is_explained():
    read = {name for path in _sources() for name in re.findall(r"\"(INTERVALE_[A-Z_]+)\"", path.read_text("utf-8"))}
    read -= {"INTERVALE_PREPARED"}   # between the two halves of manage.py, nobody sets it
    assert len(read) > 10
    assert {name for name in read if f"`{name}`" not in DEVELOPERS} == set()


def test_every_setting_that_is_explained_is_read():
    named = set(re.findall(r"`(INTERVALE_[A-Z_]+)`", README + DEVELOPERS))
    code = "".join(path.read_text("utf-8") for path in [*_sources(), *ROOT.glob("tests/**/*.py")])
    assert {name for name in named if name not in code} == set()


def test_every_command_of_ours_is_named():
    commands = {path.stem for path in ROOT.glob("*/*/management/commands/*.py")} - {"__init__"}
    assert {name for name in commands if f"manage.py {name}" not in README + DEVELOPERS} == set()


def test_every_app_is_on_the_map():
    ours = {config.name for config in apps.get_app_configs() if config.name.startswith(("clinic.", "programs."))}
    assert {name for name in ours if f"{name.split('.')[1]}/" not in DEVELOPERS} == set()


def test_every_kind_of_message_is_listed():
    from clinic.reminders.kinds import all_kinds

    assert {kind.code for kind in all_kinds() if f"`{kind.code}`" not in DEVELOPERS} == set()


def test_the_top_level_holds_what_it_should_and_nothing_else():
    tracked = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=True).stdout.split("\n")
    top = {line.split("/")[0] for line in tracked if line}
    assert {name for name in top if not name.startswith(".")} == TOP_LEVEL


@pytest.mark.parametrize("text", [README, DEVELOPERS], ids=["README", "DEVELOPERS"])
def test_links_inside_the_documents_lead_somewhere(text):
    for target in re.findall(r"\]\(([^)]+)\)", text):
        assert not target.startswith("http"), "the documents stand by themselves"
        file, _, anchor = target.partition("#")
        assert not file or (ROOT / file).exists(), target
        document = (ROOT / file).read_text("utf-8") if file.endswith(".md") else text
        titles = [line.lstrip("# ").lower() for line in document.splitlines() if line.startswith("#")]
        headings = {re.sub(r"[^\w -]", "", title).replace(" ", "-") for title in titles}
        assert not anchor or anchor in headings, target
