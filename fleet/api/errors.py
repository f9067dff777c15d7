"""What is refused of a request before anybody looks at what it asks for."""

from collections.abc import Sequence

from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from rest_framework.exceptions import APIException, ParseError

from fleet.usage.figures import how_many


def not_utf_8(error: UnicodeDecodeError) -> ParseError:
    """Return the refusal of a body that isn't UTF-8."""
    return ParseError(_("The body is not UTF-8 from byte {byte} on.").format(byte=how_many(error.start + 1)))


class TooLarge(APIException):
    """The request holds more than the route takes at once."""

    status_code = 413
    default_code = "too-large"


class WrongCoding(APIException):
    """The body is packed or written in a way that isn't read here; `accepted` says which codings are."""

    status_code = 415
    default_code = "unsupported-coding"

    def __init__(self, detail: str, *, accepted: str = "") -> None:
        super().__init__(detail)
        self.accepted = accepted


class MalformedLines(ParseError):
    """Lines of the body that can't be read, by their numbers from 1."""

    def __init__(self, lines: Sequence[tuple[int, str]], *, more: int = 0) -> None:
        if more > 0:
            sentence = ngettext(
                "Nothing was saved: {number} malformed line, and {more} more; see errors.",
                "Nothing was saved: {number} malformed lines, and {more} more; see errors.",
                len(lines),
            )
        else:
            sentence = ngettext(
                "Nothing was saved: {number} malformed line; see errors.",
                "Nothing was saved: {number} malformed lines; see errors.",
                len(lines),
            )
        super().__init__(sentence.format(number=len(lines), more=how_many(more)))
        self.errors = [{"detail": reason, "line": number} for number, reason in lines]
