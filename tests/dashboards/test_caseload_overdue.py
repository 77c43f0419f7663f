"""A reassessment that is overdue and not booked moves a line up, until it is booked."""

from datetime import timedelta

from clinic.visits.models import Reassessment
from dashboards.pages.words import reason_words
from dashboards.read_models import caseload as model
from programs.following.actions.follow_programs import follow_programs
from tests.dashboards.logs import log_days


def test_an_overdue_look_moves_up_and_says_so(cast, give, later):
    abe, zed = give("Abe"), give("Zed")
    for program in (abe, zed):
        log_days(program, 5)
    Reassessment.objects.filter(episode=abe.episode).update(
        earliest=later(20).date(), due=later(21).date(), latest=later(22).date()
    )
    Reassessment.objects.filter(episode=zed.episode).update(
        earliest=later(-12).date(), due=later(-11).date(), latest=later(-10).date()
    )
    now = later(5)
    follow_programs(now=now)
    rows = model.rows_of(model.caseload(cast.mina.user, now.date()), now, now.date())
    by_name = {row.client: row.standing for row in rows if row.standing}
    assert [row.client for row in rows][:2] == ["Zed Reed", "Abe Reed"]
    assert by_name["Zed Reed"].attention == by_name["Abe Reed"].attention + 60   # sixteen days: two whole weeks
    assert reason_words(by_name["Zed Reed"].reasons[0]) == "Reassessment overdue by 16 days"
    assert "look_overdue" not in {reason["code"] for reason in by_name["Abe Reed"].reasons}
    Reassessment.objects.filter(episode=zed.episode).update(status="withdrawn", closed_at=now - timedelta(days=1))
    rows = model.rows_of(model.caseload(cast.mina.user, now.date()), now, now.date())
    assert [row.client for row in rows][:2] == ["Abe Reed", "Zed Reed"]
