"""How long the portal takes to take a log.

Yardstick: the barest possible view of the API framework, without sign-in, reading JSON and inserting one row by itself, on
the same database through the same test client. Both in processor seconds, each request its own transaction.
"""

from __future__ import annotations

import json
import uuid

from tests.benchmarks.common import Measured, quickest

SETTING = "demo"
TIMES = 20
BATCH = 20


def measure() -> list[Measured]:
    """One session handed over, alone and in a batch, against one insert."""
    from django.test import Client as Browser
    from django.utils import timezone

    from programs.portal.queries.ahead import ahead_of
    from programs.prescribing.models import Program

    program = Program.objects.filter(status="active", client__user__isnull=False).order_by("pk").first()
    if program is None:
        raise SystemExit("The demo clinic has no active program.")
    user = program.client.user
    browser = Browser()
    browser.force_login(user)
    ahead = next(held for held in ahead_of(user, timezone.now(), 1).programs if held.program == program)
    revision, cards = ahead.cards[0]

    def session() -> dict[str, object]:
        items = [{"item_key": str(card.item.key), "done_left": 60, "done_right": 60} for card in cards]
        return {
            "log_id": str(uuid.uuid4()), "revision": str(revision.public_id), "day": ahead.days[0].day.isoformat(),
            "pain_during": 1, "effort": 4, "rating": "about_right", "items": items,
        }

    def hand_over(count: int) -> None:
        body = json.dumps({"sessions": [session() for _ in range(count)]})
        answer = browser.post("/api/v1/me/sessions", body, content_type="application/json").json()
        if {row["result"] for row in answer["results"]} != {"stored"}:
            raise SystemExit(f"A session was not stored: {answer}")

    bare = quickest(bare_insert(user), times=TIMES)
    hand_over(1)
    yardstick = "the barest view that reads JSON and inserts one row"
    return [
        Measured("one session logged by a request", quickest(lambda: hand_over(1), times=TIMES), yardstick, bare, most=2.0),
        Measured(
            f"a session logged in a batch of {BATCH}", quickest(lambda: hand_over(BATCH)) / BATCH, yardstick, bare, most=2.0
        ),
    ]


def bare_insert(user):
    """A call that sends one request to a view with nothing around it."""
    from django.contrib.auth.models import AnonymousUser
    from django.test import RequestFactory
    from django.utils import timezone
    from rest_framework.response import Response
    from rest_framework.views import APIView

    from clinic.people.models import AuditEvent

    class Bare(APIView):
        authentication_classes = ()
        permission_classes = ()

        def post(self, request):
            row = AuditEvent.objects.create(
                at=timezone.now(), by=user, verb="bench", record=request.data["record"], client=None
            )
            return Response({"id": row.pk})

    view, factory = Bare.as_view(), RequestFactory()

    def sent() -> None:
        request = factory.post("/bare", json.dumps({"record": str(uuid.uuid4())}), content_type="application/json")
        request.user = AnonymousUser()
        answer = view(request)
        answer.render()

    return sent
