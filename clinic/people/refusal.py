"""The one exception an action raises when it will not do what was asked."""

from __future__ import annotations

from typing import Any


class Refusal(Exception):
    """A refusal with a code, a sentence for a person, the numbers behind it and, where known, the fields at fault.

    `status` is the HTTP status the API answers with: 400 bad input, 404 not there (or not yours), 409 in conflict
    with what is stored, 412 changed meanwhile, 422 cannot be used twice like this.
    """

    def __init__(
        self, code: str, sentence: str, *, status: int = 409, fields: dict[str, str] | None = None, **numbers: Any
    ) -> None:
        super().__init__(sentence)
        self.code = code
        self.sentence = sentence
        self.status = status
        self.fields = fields or {}
        self.numbers = numbers

    @property
    def field_sentences(self) -> list[str]:
        """The sentences of the fields at fault, for templates (where `fields.items` would find a field called items)."""
        return list(self.fields.values())


class NotThere(Refusal):
    """The thing does not exist, or is not for this person: both get this answer."""

    def __init__(self) -> None:
        super().__init__("not_found", "There is nothing here that you can see.", status=404)
