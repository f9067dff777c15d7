"""What is refused of a request before anybody looks at what it asks for."""

from collections.abc import Sequence

from rest_framework.exceptions import APIException, ParseError


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
        also = f", and {more:,} more" if more > 0 else ""
        count = f"{len(lines)} malformed line{'' if len(lines) == 1 else 's'}"
        super().__init__(f"Nothing was saved: {count}{also}; see errors.")
        self.errors = [{"detail": reason, "line": number} for number, reason in lines]
