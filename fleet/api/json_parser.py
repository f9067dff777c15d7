"""The JSON that all but the intake's routes take: small, and within limits before it becomes objects."""

import io
from collections.abc import Mapping
from typing import IO, Any

from rest_framework.exceptions import ParseError
from rest_framework.parsers import JSONParser

from fleet.api.errors import TooLarge
from fleet.core.json_limits import TooMuch, check_json

MOST_BYTES = 1024 * 1024
MOST_VALUES = 20_000


class JsonParser(JSONParser):
    """As the framework's, within limits. Raises ParseError and TooLarge before any work."""

    def parse(
        self,
        stream: IO[bytes],
        media_type: str | None = None,
        parser_context: Mapping[str, Any] | None = None,
    ) -> Any:
        """Return what the body says."""
        body = stream.read(MOST_BYTES + 1)
        if len(body) > MOST_BYTES:
            raise TooLarge(f"Send at most {MOST_BYTES // 1024**2} MB at once.")
        try:
            check_json(body.decode("utf-8-sig"), most=MOST_VALUES)
        except UnicodeDecodeError as error:
            raise ParseError(f"The body is not UTF-8 from byte {error.start + 1:,} on.") from None
        except TooMuch as error:
            raise TooLarge(f"The body {error}.") from None
        return super().parse(io.BytesIO(body), media_type, parser_context)
