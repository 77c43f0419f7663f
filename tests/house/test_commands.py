"""Every command that the documents name is there and takes the options they name; README's boxes run as written."""

from __future__ import annotations

import importlib.util
import io
import re
import shlex
from pathlib import Path

import pytest
from django.core.management import call_command, get_commands, load_command_class

from clinic.people.models import Client, Site

ROOT = Path(__file__).resolve().parents[2]
README = (ROOT / "README.md").read_text("utf-8")
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text("utf-8")
OF_MANAGE = {"demo", "tests"}   # manage.py itself prepares these; tests/house/test_topology.py serves the demo
BOXED = [line for box in re.findall(r"```\n(.*?)```", README, re.DOTALL) for line in box.splitlines() if "manage.py" in line]
MODULES = sorted(set(re.findall(r"python3 -m (tests\.[\w.]+)", README + DEVELOPERS)))
ROWS = re.findall(r"^\| `python3 manage\.py (\w+)([^`]*)` \| (.*) \|$", DEVELOPERS, re.MULTILINE)


def test_the_table_of_commands_was_found():
    assert len(ROWS) > 8
    assert len(BOXED) >= 3
    assert len(MODULES) >= 3


@pytest.mark.parametrize(("name", "words", "says"), ROWS, ids=[row[0] for row in ROWS])
def test_a_documented_command_takes_the_options_that_are_named(name, words, says):
    commands = get_commands()
    if name in OF_MANAGE and name not in commands:
        return
    command = load_command_class(commands[name], name) if isinstance(commands[name], str) else commands[name]
    known = {option for action in command.create_parser("manage.py", name)._actions for option in action.option_strings}
    named = set(re.findall(r"--[a-z-]+", words + " " + " ".join(re.findall(r"`([^`]*)`", says))))
    assert named - known == set()


@pytest.mark.parametrize("name", MODULES)
def test_a_documented_module_can_be_run(name):
    spec = importlib.util.find_spec(name)
    assert spec is not None
    file = Path(spec.origin)
    main = file.parent / "__main__.py" if spec.submodule_search_locations else file
    assert "__main__" in main.read_text("utf-8")


@pytest.mark.django_db
def test_the_import_of_the_readme_runs_as_written(settings):
    (line,) = [line for line in BOXED if "import_sheets" in line]
    words = shlex.split(line)[2:]
    assert words[0] == "import_sheets"
    Site.objects.create(
        name=words[words.index("--site") + 1], zone="Europe/London", phone="+441632960100", emergency_number="999",
        region_code="GB",
    )
    out = io.StringIO()
    paths = [str(ROOT / word) if (ROOT / word).exists() else word for word in words[1:]]
    call_command("import_sheets", *paths, "--quiet", stdout=out)
    assert "clients" in out.getvalue().lower()
    assert not Client.objects.exists()
