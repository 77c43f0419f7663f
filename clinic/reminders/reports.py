"""Where a gateway reports what became of a text message: no session, no cookie, a signature instead."""

from __future__ import annotations

import json
from typing import Any

from django.conf import settings
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseNotAllowed
from django.utils import timezone
from django.views.decorators.csrf import csrf_exempt

from clinic.people.queries import system_actor
from clinic.reminders.actions.take_report import take_report
from clinic.reminders.rules.signed import genuine
from clinic.reminders.serializers import ReportIn
from clinic.reminders.sms import NO_SUCH_NUMBER
from clinic.reminders.vocab import Outcome

MOST_BYTES = 16 * 1024
LONGEST_ID = 80


@csrf_exempt   # it comes without a session, so there is nothing to forge; who signs it is who may send it
def sms(request: HttpRequest) -> HttpResponse:
    """204 once it is taken in (the same again too), 401 when it is not signed by the gateway or not of now, 400 for nonsense.

    Without a signing key there is no such page. A report of a message that is not ours is 204 as well: sending it again
    would change nothing.
    """
    if not settings.SMS_SIGNING_KEY:
        raise Http404
    if request.method != "POST":
        return HttpResponseNotAllowed(["POST"])
    body = request.read(MOST_BYTES + 1)
    report_id = request.headers.get("webhook-id", "")
    if len(body) > MOST_BYTES or len(report_id) > LONGEST_ID:
        return HttpResponse(status=413)
    signed = genuine(
        settings.SMS_SIGNING_KEY, report_id, request.headers.get("webhook-timestamp", ""), body,
        request.headers.get("webhook-signature", ""), timezone.now().timestamp(),
    )
    if not signed:
        return HttpResponse(status=401)
    report = ReportIn(data=_read(body))
    if not report.is_valid():
        return HttpResponse(status=400)
    told = report.validated_data
    take_report(
        by=system_actor(), report_id=report_id, message_id=str(told["id"]), outcome=_outcome(told), address=told["to"],
        now=timezone.now(),
    )
    return HttpResponse(status=204)


sms.open_methods = {"POST"}   # type: ignore[attr-defined]


def _outcome(told: dict[str, Any]) -> Outcome:
    if told["status"] == "delivered":
        return Outcome.DELIVERED
    return Outcome.NO_SUCH if told["error"] == NO_SUCH_NUMBER else Outcome.FAILED


def _read(body: bytes) -> Any:
    try:
        return json.loads(body)
    except ValueError:
        return None
