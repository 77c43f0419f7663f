"""Another time that the clinic proposes: yes or no."""

from __future__ import annotations

from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _

from clinic.booking.away import move_for
from clinic.people.access import me
from clinic.people.refusal import Refusal
from programs.portal.actions.answer_move import answer_move
from programs.portal.views.client_page import client_page
from programs.portal.wording import spoken_refusal


@client_page(("GET", "POST"))
def proposed(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """The time agreed and the one proposed; POST `answer` yes or no."""
    move = move_for(me(request), public_id)
    context = {"client": move.appointment.client, "visit": move.appointment, "move": move}
    answer = request.POST.get("answer", "")
    if request.method == "GET" or answer not in ("yes", "no"):
        return render(request, "portal/proposed.html", context, status=200 if request.method == "GET" else 400)
    try:
        answer_move(by=me(request), move=move, yes=answer == "yes", now=timezone.now())
    except Refusal as refusal:
        return render(
            request, "portal/proposed.html", {**context, "refusal": spoken_refusal(refusal)}, status=refusal.status
        )
    if answer == "yes":
        messages.success(request, _("Thank you. Your visit is moved."))
    else:
        messages.success(request, _("Thank you for telling us. The clinic will be in touch about another time."))
    return redirect("portal:visits")
