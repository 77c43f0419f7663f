"""The doors others read through."""

from datetime import timedelta

from programs.following.queries import days_of, logs_of, open_suggestions, ribbon_of, states_of, suggestions_for
from programs.prescribing.actions.prescribe_program import prescribe_program
from tests.following.conftest import START, done, hip_plan


def test_the_ribbon_is_past_from_records_and_future_from_the_plan(program, report):
    report(0)
    report(2, items=())
    today = START + timedelta(days=2)
    ribbon = ribbon_of(program, START, START + timedelta(days=4), today)
    assert [(row.state, row.done is None, row.today) for row in ribbon] == [
        ("session", False, False), ("silent", True, False), ("session", False, True), ("session", True, False),
        ("session", True, False),
    ]
    assert ribbon[0].done == ribbon[0].full // 2      # one of the two sessions that are the most
    assert ribbon[2].done == 0                        # logged as not done
    assert ribbon[3].minimum == hip_plan().session_seconds("minimum")


def test_the_ribbon_before_the_first_fold_comes_from_the_plan(program):
    future = START + timedelta(days=30)
    ribbon = ribbon_of(program, future, future + timedelta(days=6), START)
    assert len(ribbon) == 7
    assert {row.state for row in ribbon} == {"session"}    # a kick-off that waits for a decision goes on


def test_states_and_days_of_many_programs_take_one_query_each(cast, program, report, now, django_assert_num_queries):
    other = prescribe_program(by=cast.theo.user, episode=cast.bo_neck, plan=hip_plan(), title="Neck", starts=START, now=now)
    report(0)
    with django_assert_num_queries(1):
        states = states_of([program.pk, other.pk])
    assert (states[program.pk].adherence_all, states[other.pk].adherence_all) == (1.0, None)
    with django_assert_num_queries(1):
        days = days_of([program.pk, other.pk, 0], START, START)
    assert [row.logged for row in days[program.pk]] == [True]
    assert days[0] == []


def test_logs_and_suggestions_are_not_for_the_desk(cast, program, report):
    report(0, pain_during=6)
    assert logs_of(cast.mina.user, program).count() == 1
    assert logs_of(cast.ada.user, program).count() == 1
    for user in (cast.desk.user, cast.theo.user, cast.bo.user):
        assert logs_of(user, program).count() == 0
        assert suggestions_for(user).count() == 0
    assert suggestions_for(cast.lead.user).count() == 1
    assert suggestions_for(cast.ada.user).count() == 0


def test_stopping_comes_first(cast, program, report):
    for day in range(2):
        report(day, items=done(reps=12), pain_during=1)
    progress = suggestions_for(cast.mina.user).get()
    for kind in ("taper", "contact", "pause_and_refer"):
        suggestions_for(cast.mina.user).model.objects.create(
            program=program, kind=kind, evidence=progress.evidence, rule_set=progress.rule_set, revision=progress.revision,
            made=progress.made,
        )
    assert [row.kind for row in open_suggestions(cast.mina.user)] == ["pause_and_refer", "contact", "taper", "progress"]


def test_every_rule_has_words():
    import ast
    from pathlib import Path

    from programs.following.words import RULES

    named = set()
    for name in ("item_rules", "program_rules"):
        tree = ast.parse((Path(__file__).parents[2] / f"programs/following/rules/{name}.py").read_text())
        for node in ast.walk(tree):
            if isinstance(node, ast.Call) and getattr(node.func, "id", "") == "Evidence":
                named |= {node.args[0].value} if isinstance(node.args[0], ast.Constant) else set()
    assert named | {"too_easy", "too_hard"} == set(RULES)


def test_what_was_done_is_said(program, report):
    from programs.following.words import log_line

    report(0, items=done(skipped="pain", keys=(next(iter(hip_plan().items)).key,)), pain_before=1, pain_during=3)
    row = logs_of(program.client.user, program).get()
    line = log_line(row, {row.items.all()[0].item_key: "Bridge"})
    assert (line.items, line.pain) == (["Bridge: left out (it hurt)"], "before 1, worst 3")
