"""Take the person out of the records, and keep the records."""

from __future__ import annotations

import logging
from datetime import datetime
from functools import partial
from typing import Any

from allauth.account.models import EmailAddress
from allauth.mfa.models import Authenticator
from django.apps import apps
from django.contrib.sessions.models import Session
from django.db import models, transaction
from django.db.models import Model, QuerySet

from clinic.people import audit
from clinic.people.models import AppendOnly, Client, User
from clinic.people.refusal import NotThere, Refusal
from clinic.people.vocab import Role
from clinic.trust.registered import rows_about
from clinic.trust.rules.register import Entry

log = logging.getLogger("intervale.trust")


@transaction.atomic
def erase_person(*, by: User, client: Client, name: str, now: datetime) -> None:
    """Blank identity, contacts, free text and secrets of every model in the register; delete sign-ins; end the account.

    Append-only rows are written anew without their words, under the same keys. Counts, dates and codes stay. Local law
    says how long a record must be kept: this asks nobody but the lead who types the client's full `name`.
    Refusals: `wrong_name`, `kept` (somebody wrote down why it stays), `still_active` (an open program or a visit to come).
    """
    if by.role != Role.LEAD:
        raise NotThere
    row = Client.objects.select_for_update(of=("self",)).select_related("user").get(pk=client.pk)
    if " ".join(name.split()).casefold() != row.name.casefold():
        raise Refusal(
            "wrong_name", "This is not the client's name.", status=400, fields={"name": "Type the full name as shown above."}
        )
    if row.keep:
        raise Refusal("kept", "It is written down why this record stays. Lift that first.", status=409)
    _refuse_while_in_care(row, now)
    take_out(by=by, client=row, now=now)
    # a copy from before holds the person still: whoever brings one back needs these ids (import_practice --erased)
    transaction.on_commit(partial(log.info, "person_erased", {"client": str(row.public_id)}))


def take_out(*, by: User, client: Client, now: datetime) -> None:
    """The erasing itself, inside the caller's transaction; asks nobody."""
    address, user = client.email, client.user
    for entry, rows in rows_about(client):
        _erase(entry, rows)
    if user is not None:
        _end_account(user)
    if address:
        apps.get_model("reminders", "InboxMessage").objects.filter(to__iexact=address).delete()
    Client.objects.filter(pk=client.pk, archived__isnull=True).update(archived=now)
    audit.record(by=by, verb="erase_person", kind="client", public_id=client.public_id, at=now, client=client)


def _refuse_while_in_care(client: Client, now: datetime) -> None:
    # programs and visits are above this app: they are asked by their relation to the client
    coming = client.appointments.filter(starts__gt=now, status__in=("booked", "pending", "proposed"))
    running = client.programs.filter(status__in=("active", "on-hold"))
    if coming.exists() or running.exists():
        raise Refusal(
            "still_active", "This client has a visit to come or a program that goes on. Cancel or end it first.", status=409
        )


def _erase(entry: Entry, rows: QuerySet[Any]) -> None:
    if entry.delete:
        rows.delete()
    elif not entry.blanked:
        return
    elif issubclass(rows.model, AppendOnly):
        held = list(rows)
        for row in held:
            _blank(row, entry)
        # the wall refuses an UPDATE; the row goes and comes back under its key, while links to it wait for the end
        rows._raw_delete(rows.db)
        models.QuerySet(rows.model).bulk_create(held, batch_size=500)
    else:
        held = list(rows)
        for row in held:
            _blank(row, entry)
        rows.model._base_manager.bulk_update(held, entry.blanked, batch_size=200)


def _blank(row: Model, entry: Entry) -> None:
    for name in entry.blanked:
        field = row._meta.get_field(name)
        if name in entry.erased:
            value: Any = entry.erased[name].format(pk=row.pk)
        elif isinstance(field, models.Field) and field.null:
            value = None
        elif isinstance(field, models.JSONField):
            value = type(getattr(row, name))()
        else:
            value = ""
        setattr(row, name, value)


def _end_account(user: User) -> None:
    account = User.objects.get(pk=user.pk)
    account.is_active = False
    account.set_unusable_password()
    account.save(update_fields=["is_active", "password"])
    EmailAddress.objects.filter(user=account).delete()
    Authenticator.objects.filter(user=account).delete()
    # sessions of the library hold no user column; a deactivated user is out at the next request anyway
    for session in Session.objects.iterator(chunk_size=500):
        if session.get_decoded().get("_auth_user_id") == str(account.pk):
            session.delete()
