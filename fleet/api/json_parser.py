"""The JSON that all but the intake's routes take: small, and within limits before it becomes objects."""

import io
from collections.abc import Mapping
from typing import IO, Any

from django.utils.translation import gettext as _
from rest_framework.parsers import JSONParser

from fleet.api.errors import TooLarge, not_utf_8
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
            sentence = _("Send at most {megabytes} MB at once.")
            raise TooLarge(sentence.format(megabytes=MOST_BYTES // 1024**2))
        try:
            check_json(body.decode("utf-8-sig"), most=MOST_VALUES)
        except UnicodeDecodeError as error:
            raise not_utf_8(error) from None
        except TooMuch as error:
            raise TooLarge(_("The body {does}.").format(does=error)) from None
        return super().parse(io.BytesIO(body), media_type, parser_context)
