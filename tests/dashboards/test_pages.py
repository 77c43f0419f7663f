"""The pages: filters, files, what a name cannot do, accepting in place, the ids plotly.js looks for."""

import csv
import io
import re
from pathlib import Path

import plotly
import pytest
import time_machine

from clinic.people.models import Client
from dashboards.pages.words import REASONS, reason_words
from programs.following.actions.follow_programs import follow_programs
from programs.following.models import Suggestion
from programs.prescribing.models import Program

PAGES = ("/caseload/", "/practice/adherence/", "/practice/overdue/", "/practice/progression/")
EVIL = "</script><script>alert(1)</script>"


@pytest.fixture
def see(browse, later):
    """see(user, address, day) -> the answer's text on that day."""

    def get(user, address, day=8):
        with time_machine.travel(later(day), tick=False):
            answer = browse(user).get(address)
        assert answer.status_code == 200
        return answer.content.decode()

    return get


@pytest.fixture
def silent(program, later):
    follow_programs(now=later(8))
    return program


@pytest.mark.parametrize("address", PAGES)
def test_an_empty_practice_says_so(cast, see, address):
    Client.objects.update(archived=cast.ada.registered)
    assert 'class="empty"' in see(cast.lead.user, address)


@pytest.mark.parametrize("address", PAGES)
def test_each_page_shows_the_program_to_who_may_see_it(cast, silent, see, address):
    day = 60
    follow_programs(now=cast.ada.registered.replace(month=5, day=1))
    assert "Ada Quill" in see(cast.mina.user, address, day)
    assert "Ada Quill" in see(cast.lead.user, address, day)
    assert "Ada Quill" not in see(cast.theo.user, address, day)
    assert "Ada Quill" not in see(cast.lead.user, f"{address}?clinician={cast.theo.public_id}", day)


@pytest.mark.parametrize("address", PAGES)
@pytest.mark.parametrize("clinician", ["nonsense", "00000000-0000-0000-0000-000000000000"])
def test_a_clinician_who_cannot_be_chosen_is_not_there(cast, browse, address, clinician):
    assert browse(cast.lead.user).get(address, {"clinician": clinician}).status_code == 404
    assert browse(cast.theo.user).get(address, {"clinician": str(cast.mina.public_id)}).status_code == 404


def test_reasons_are_words_and_the_filter_is_a_link(cast, silent, see):
    text = see(cast.mina.user, "/caseload/")
    assert "No log for 8 days" in text
    assert 'href="?show=silent"' in text
    assert "Ada Quill" in see(cast.mina.user, "/caseload/?show=silent")
    assert "Those in pain: nobody" in see(cast.mina.user, "/caseload/?show=pain")
    assert "Ada Quill" in see(cast.mina.user, "/caseload/?show=nonsense")


def test_every_reason_of_the_attention_order_has_words():
    rules = (Path(__file__).parents[2] / "programs/following/rules/attention.py").read_text("utf-8")
    codes = set(re.findall(r'add\("(\w+)"', rules)) | set(re.findall(r'"code": "(\w+)"', rules)) | {"low", "partly"}
    assert len(codes) >= 7
    assert codes <= set(REASONS)
    assert reason_words({"code": "low", "points": 50, "share": 0.344}) == "34 % of what was asked in 7 days"
    assert reason_words({"code": "pain_rising", "points": 80, "points_a_week": 0.25}) == "Pain rises 0.2 points a week"
    assert reason_words({"code": "silent", "points": 92, "days": 1}) == "No log for 1 day"


def test_a_share_of_nothing_is_a_dash(cast, program, see):
    text = see(cast.mina.user, "/caseload/", 0)
    assert "<strong>–</strong> of the dose in 7 days" in text
    assert "Too early to say" in text


def test_a_suggestion_is_accepted_where_it_is_read(cast, silent, browse, later):
    browser = browse(cast.mina.user)
    with time_machine.travel(later(8), tick=False):
        text = browser.get("/caseload/?show=silent").content.decode()
        address = re.search(r'action="(/suggestions/[^"]+/accept/)"', text)[1]
        back = re.search(r'name="back" value="([^"]+)"', text)[1]
        answer = browser.post(address, {"back": back})
    assert (answer.status_code, answer["Location"]) == (302, "/caseload/?show=silent")
    assert Suggestion.objects.get(kind="contact").state == "accepted"


@pytest.mark.parametrize("back", ["https://elsewhere.example/", "//elsewhere.example", "javascript:alert(1)", ""])
def test_back_never_leads_elsewhere(cast, silent, browse, later, back):
    suggestion = Suggestion.objects.get(kind="contact")
    with time_machine.travel(later(8), tick=False):
        answer = browse(cast.mina.user).post(f"/suggestions/{suggestion.public_id}/accept/", {"back": back})
    assert (answer.status_code, answer["Location"]) == (302, "/suggestions/")


def test_the_lead_reads_and_does_not_decide(cast, silent, see):
    text = see(cast.lead.user, "/caseload/")
    assert "Talk to the client" in text
    assert "/accept/" not in text


@pytest.mark.parametrize("address", PAGES)
def test_a_name_cannot_end_the_data(cast, silent, see, address):
    Client.objects.filter(pk=cast.ada.pk).update(given_name=EVIL)
    Program.objects.update(title=EVIL)
    follow_programs(now=cast.ada.registered.replace(month=5, day=1))
    text = see(cast.mina.user, address, 60)
    assert "<script>alert" not in text
    assert "style=" not in text


@pytest.mark.parametrize("address", ["caseload/", "practice/adherence/", "practice/overdue/", "practice/progression/"])
def test_a_file_runs_nothing(cast, silent, see, address):
    Client.objects.filter(pk=cast.ada.pk).update(given_name='=HYPERLINK("x")')
    follow_programs(now=cast.ada.registered.replace(month=5, day=1))
    rows = list(csv.reader(io.StringIO(see(cast.mina.user, f"/{address}table.csv", 60).lstrip("\ufeff"))))
    assert {len(row) for row in rows} == {len(rows[0])}
    assert rows[0][0] == "Client"
    assert rows[1][0] == '\'=HYPERLINK("x") Quill'
    assert not [cell for row in rows for cell in row if cell[:1] in "=+@\t\r" and cell]


def test_the_file_of_a_filter_holds_the_filter(cast, silent, see):
    assert "Ada" in see(cast.mina.user, "/caseload/table.csv?show=silent")
    assert "Ada" not in see(cast.mina.user, "/caseload/table.csv?show=pain")


@pytest.mark.parametrize("count", [1, 3])
@pytest.mark.parametrize(("address", "queries"), [(PAGES[1], 7), (PAGES[2], 7), (PAGES[3], 10)])
def test_pages_take_a_fixed_number_of_queries(
    cast, program, give, browse, later, count, address, queries, django_assert_num_queries
):
    for index in range(count - 1):
        give(f"Client{index}")
    follow_programs(now=later(40))
    browser = browse(cast.mina.user)
    with time_machine.travel(later(40), tick=False):
        browser.get(address)
        with django_assert_num_queries(queries):
            answer = browser.get(address)
    assert answer.content.decode().count("Quill") >= 1


def test_the_page_takes_every_style_id_that_the_chart_library_would_fill(cast, see):
    bundle = (Path(plotly.__file__).parent / "package_data/plotly.min.js").read_text("utf-8")
    filled = set(re.findall(r'getElementById\("([0-9a-f]{64})"\)', bundle)) | {"plotly.js-style-global"}
    text = see(cast.lead.user, "/practice/overdue/")
    assert len(filled) == 2
    assert all(f'id="{name}"' in text for name in filled)
    assert "plotly" not in see(cast.lead.user, "/caseload/")


@pytest.mark.parametrize("address", PAGES)
def test_an_open_page_is_told_when_nothing_changed_and_gets_what_did(cast, silent, browse, later, address):
    browser = browse(cast.mina.user)
    with time_machine.travel(later(60), tick=False):
        follow_programs(now=later(60))
        first = browser.get(address)
        held = {"if-none-match": first["ETag"]}
        assert "dashboards/live.js" in first.content.decode()
        assert (browser.get(address, headers=held).status_code, browser.get(address).status_code) == (304, 200)
        Client.objects.filter(pk=cast.ada.pk).update(given_name="Adele")
        changed = browser.get(address, headers=held)
        assert (changed.status_code, changed["ETag"] == first["ETag"]) == (200, False)
        assert browse(cast.theo.user).get(address, headers=held).status_code == 200   # somebody else's state is another one
