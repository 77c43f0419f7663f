"""What ends a booking when the time is not free. A leaf."""

from __future__ import annotations

NOT_THERE, FULL = "group", "place"   # what is in the way of joining a group, beside the resources of vocab.py


class Taken(Exception):
    """Somebody else holds that time. Turned into a Refusal once the transaction is rolled back."""

    def __init__(self, resource: str, name: str) -> None:
        super().__init__(resource)
        self.resource = resource
        self.name = name
