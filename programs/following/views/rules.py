"""Pages of the rule set: thresholds and versions, what another threshold would have suggested, publishing, drop-out."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone

from clinic.people.access import me, page
from clinic.people.forms import put_refusal
from clinic.people.paging import page_of
from clinic.people.refusal import Refusal
from clinic.people.vocab import Role
from programs.following import queries, rule_words, whatif
from programs.following.actions.publish_rule_set import publish_rule_set
from programs.following.dropout import drop_out_rows, people_of
from programs.following.forms import RuleSetForm, WhatIfForm
from programs.following.rules import ruleset, survival
from programs.following.words import SHAPES

VERSIONS = 10


@page(Role.CLINICIAN, Role.LEAD)
def rules(request: HttpRequest) -> HttpResponse:
    """The thresholds in force with unit, bounds and source, and every version with its reason."""
    newest = queries.newest_rule_set()
    rows = page_of(queries.rule_sets(), request, VERSIONS)
    context = {
        "newest": newest, "thresholds": rule_words.threshold_lines(newest.thresholds) if newest else [],
        "page": rows, "versions": queries.with_changes(list(rows)), "publishes": me(request).role == Role.LEAD,
    }
    return render(request, "following/rules.html", context)


@page(Role.CLINICIAN, Role.LEAD)
def what_if(request: HttpRequest) -> HttpResponse:
    """Change one threshold and replay the past caseload: what would have been suggested, against what was."""
    newest = queries.newest_rule_set()
    if newest is None:
        return render(request, "following/what_if.html", {"newest": None})
    asked = "threshold" in request.GET
    form = WhatIfForm(request.GET if asked else None, choices=rule_words.choices(newest.thresholds))
    context: dict[str, Any] = {"newest": newest, "form": form, "publishes": me(request).role == Role.LEAD}
    if asked and form.is_valid():
        given = form.cleaned_data
        change = {given["threshold"]: rule_words.meant(newest.thresholds, given["threshold"], given["value"])}
        current = ruleset.read(newest.version, newest.thresholds)
        wrong = _wrong(newest.thresholds, current, change)
        if wrong:
            form.add_error("value", wrong)
        else:
            context |= _replayed(request, newest.thresholds, current, change, given["weeks"])
            context["typed"] = f"{given['value']:g}"
    status = 400 if asked and form.errors else 200
    return render(request, "following/what_if.html", context, status=status)


def _wrong(data: dict[str, Any], current: ruleset.RuleSet, change: dict[str, float]) -> str:
    """Why the change cannot be tried, in a sentence; empty when it can."""
    for sentence in ruleset.problems(data, change).values():
        return sentence
    return rule_words.out_of_order({**current.numbers, **change})


def _replayed(
    request: HttpRequest, data: dict[str, Any], current: ruleset.RuleSet, change: dict[str, float], weeks: int
) -> dict[str, Any]:
    changed = ruleset.changed(current, change)
    answer = whatif.what_if(me(request), rules=current, changed=changed, weeks=weeks, now=timezone.now())
    (name, value), = change.items()
    row = next(row for row in ruleset.thresholds(data) if row.name == name)
    label = f"{rule_words.GROUPS[name.split('.')[0]]}: {rule_words.LABELS[name].lower()}"
    return {
        "answer": answer, "label": label, "unit": rule_words.unit(row), "name": name, "weeks": weeks,
        "was": rule_words.said(row, row.value), "would_be": rule_words.said(row, value),
        "lines": [(SHAPES[line.kind], line) for line in answer.rows],
        "differs": [(SHAPES[line.kind], line) for line in answer.rows if line.differs],
    }


@page(Role.LEAD, methods=("GET", "POST"))
def publish(request: HttpRequest) -> HttpResponse:
    """A new version of the rule set, with the reason."""
    newest = queries.newest_rule_set()
    if newest is None:
        return redirect("following:rules")
    initial: dict[str, Any] = {"based_on": newest.version}
    if request.GET.get("threshold") in ruleset.NAMES:
        initial[request.GET["threshold"]] = request.GET.get("value", "")
    form = RuleSetForm(
        request.POST or None, thresholds=ruleset.thresholds(newest.thresholds), labels=rule_words.LABELS, initial=initial
    )
    refusal: Refusal | None = None
    if request.method == "POST" and form.is_valid():
        try:
            row = publish_rule_set(
                by=me(request), values=form.values(), reason=form.cleaned_data["reason"],
                based_on=form.cleaned_data["based_on"], now=timezone.now(),
            )
        except Refusal as refused:
            refusal = refused
            put_refusal(form, refused.fields)
        else:
            messages.success(request, f"Version {row.version} is published. Programs are worked out with it within minutes.")
            return redirect("following:rules")
    groups = rule_words.grouped(form.names)
    context = {
        "form": form, "refusal": refusal, "newest": newest,
        "groups": [(title, [form[name] for name in names]) for title, names in groups],
    }
    status = 200 if request.method == "GET" else refusal.status if refusal else 400
    return render(request, "following/publish.html", context, status=status)


@page(Role.LEAD)
def drop_out(request: HttpRequest) -> HttpResponse:
    """The share of programs still followed, by day, with its interval: a table."""
    newest = queries.newest_rule_set()
    length = ruleset.read(newest.version, newest.thresholds).bands.silent_after if newest else 7
    rows = drop_out_rows(me(request))
    steps = survival.kaplan_meier(people_of(rows))
    context = {
        "page": page_of(steps, request), "programs": len(rows), "gone": sum(row.dropped_out for row in rows),
        "median": survival.median_day(steps), "length": length,
    }
    return render(request, "following/drop_out.html", context)
