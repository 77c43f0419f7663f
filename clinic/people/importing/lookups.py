"""Finding the people a row speaks of. A name counts only when it can be one person."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Hashable, Sequence

from clinic.people.importing.faults import Fault
from clinic.people.importing.sheet import Context, Row
from clinic.people.models import Client, Site, Staff, User
from clinic.people.rules.contacts import search_form
from clinic.people.vocab import Role


def site_named(name: str) -> Site | None:
    """The site with that name."""
    return Site.objects.filter(name=name).first()


def staff_named(email: str, site: Site) -> User | None:
    """The active member of staff of the site with that mail address."""
    return User.objects.filter(email=email.strip().lower(), is_active=True, staff__sites=site).first()


def plain_name(name: str) -> str:
    """A name for comparing: no accents, no case, `Quill, Ada` turned round."""
    family, comma, given = name.partition(",")
    return " ".join(search_form(f"{given} {family}" if comma else name).split())


def client_marks(row: Row) -> tuple[Hashable, ...]:
    """What other sheets may know the client of this row by."""
    name = row.get("client_name") or f"{row.get('given_name')} {row.get('family_name')}".strip()
    marks = (("client", row.get("client_ref")), ("client", plain_name(name)))
    return tuple(mark for mark in marks if mark[1])


def client_of(row: Row, context: Context) -> Client:
    """The client of a row, by number or else by name. Fault unknown_client, several_clients, missing_value."""
    found = clients_of([row], context)[0]
    if isinstance(found, Fault):
        raise found
    return found


def clients_of(rows: Sequence[Row], context: Context) -> list[Client | Fault]:
    """The client of each row, or why there is none (see `client_of`): two queries however many rows there are."""
    refs = {row.get("client_ref") for row in rows} - {""}
    clients = Client.objects.select_related("site", "user")
    by_ref = {
        client.external_ref: client for client in clients.filter(site=context.site, external_ref__in=refs)
    } if refs else {}
    found = [_client_or_key(row, by_ref, context) for row in rows]
    keys = {one for one in found if isinstance(one, int)}
    by_key = clients.in_bulk(keys) if keys else {}
    return [by_key[one] if isinstance(one, int) else one for one in found]


def _client_or_key(row: Row, by_ref: dict[str, Client], context: Context) -> Client | int | Fault:
    ref, name = row.get("client_ref"), row.get("client_name")
    if ref:
        if ref in by_ref:
            return by_ref[ref]
        named = _names(context).get(plain_name(ref), [])   # the column holds names
        return named[0] if len(named) == 1 else _unknown("client_ref", context, ref)
    if not name:
        return Fault("missing_value", "The row does not say which client it is about.", "Fill it in.", "client_ref")
    keys = _names(context).get(plain_name(name), [])
    if len(keys) > 1:
        return Fault(
            "several_clients", f"{len(keys)} clients have this name.", "Give the client's number.", "client_name"
        )
    return keys[0] if keys else _unknown("client_name", context, plain_name(name))


def _unknown(field: str, context: Context, mark: str) -> Fault:
    where = context.refused.get(("client", mark))
    if where:
        return Fault("unknown_client", f"This client was refused ({where}).", "Mend that row first.", field)
    return Fault("unknown_client", "There is no such client.", "Check it, or add them to the client sheet.", field)


def _names(context: Context) -> dict[str, list[int]]:
    """Keys of the site's clients by plain name, read once for a table."""
    if "client_names" not in context.memo:
        index: dict[str, list[int]] = defaultdict(list)
        rows = Client.objects.filter(site=context.site).order_by().values_list("pk", "given_name", "family_name")
        for pk, given, family in rows.iterator():
            index[plain_name(f"{given} {family}")].append(pk)
        context.memo["client_names"] = index
    found: dict[str, list[int]] = context.memo["client_names"]
    return found


def clinician_of(row: Row, context: Context) -> Staff:
    """The clinician of a row, by name or mail address, also one who has left. Fault unknown_clinician lists them."""
    if "clinicians" not in context.memo:
        everyone = Staff.objects.filter(sites=context.site, user__role=Role.CLINICIAN)
        context.memo["clinicians"] = list(everyone.select_related("user"))
    staff: list[Staff] = context.memo["clinicians"]
    said = row.get("clinician")
    if not said:
        raise Fault("missing_value", "The row does not name a clinician.", "Fill it in.", "clinician")
    for one in staff:
        if plain_name(said) == plain_name(one.name) or said.strip().lower() == one.user.email:
            return one
    names = ", ".join(one.name for one in staff if one.user.is_active)
    raise Fault("unknown_clinician", "No clinician of this site has that name.", f"Use one of: {names}.", "clinician")
