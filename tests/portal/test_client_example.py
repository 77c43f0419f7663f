"""The example of a client in the developers' guide does what it says."""

import re
import subprocess
import sys
from pathlib import Path

import pytest

from programs.following.models import ItemLog, SessionLog
from programs.portal.actions.make_token import make_token

GUIDE = Path(__file__).parents[2] / "DEVELOPERS.md"


@pytest.fixture
def example() -> str:
    found = re.search(r"## A client of the API.*?```python\n(.*?)```", GUIDE.read_text("utf-8"), re.DOTALL)
    assert len(found[1].splitlines()) <= 65
    return found[1]


@pytest.mark.django_db(transaction=True)
def test_the_example_hands_over_todays_session_once(example, program, cast, live_server, now):
    _, secret = make_token(by=cast.ada.user, label="Example", scopes={"plan", "log"}, days=1, now=now)
    done = subprocess.run(
        [sys.executable, "-c", example, live_server.url, secret], capture_output=True, text=True, check=False, timeout=60
    )
    assert done.returncode == 0, done.stderr
    assert done.stdout.splitlines() == ["2026-03-02: asked, 9 days with sessions ahead", "stored ", "already "]
    assert SessionLog.objects.get().program == program
    assert sorted(ItemLog.objects.values_list("done_left", "done_right")) == [(60, 0), (90, 0), (110, 110)]
