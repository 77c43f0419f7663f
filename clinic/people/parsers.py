"""Reading the body of an API request."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import IO, Any

from rest_framework.exceptions import ParseError
from rest_framework.parsers import JSONParser


class PlainJSONParser(JSONParser):
    """JSON as RFC 8259 means it to travel: what cannot be stored or sent on is refused with 400, not met later.

    Refused beside what is not JSON: text with half of a surrogate pair (RFC 8259, 8.2) and nesting too deep to read.
    """

    def parse(
        self, stream: IO[Any], media_type: str | None = None, parser_context: Mapping[str, Any] | None = None
    ) -> dict[str, Any]:
        try:
            data = super().parse(stream, media_type, parser_context)
            json.dumps(data, ensure_ascii=False).encode()
        except RecursionError as error:
            raise ParseError("The JSON is nested too deeply.") from error
        except UnicodeEncodeError as error:
            raise ParseError("The JSON holds half of a character.") from error
        return data
