"""What a server itself says of its refusal, cut to a sentence: told with ours, never in its place."""

import html
import http.client
import json
import re
from collections.abc import Iterator
from datetime import UTC, datetime
from email.utils import parsedate_to_datetime

from django.utils.translation import gettext as _

MOST_BYTES = 16 * 1024
LONGEST = 300  # characters that are shown
SAYING = (
    *("error", "errorcode", "code", "title", "reason", "faultcode", "faultstring", "message", "errormessage"),
    *(
        "errordescription",
        "description",
        "detail",
        "details",
        "msg",
        "text",
        "errors",
        "fault",
        "status_message",
    ),
)
"""Members of a JSON answer that tell why; common practice and RFC 9457 (from memory), no other source."""
DESCRIBED = re.compile(r"error(?:_description)?\s*=\s*\"([^\"]*)\"", re.IGNORECASE)
HIDDEN = re.compile(r"(?is)<(script|style|head)\b.*?</\1\s*>|<!--.*?-->|<[^>]*>")
MOST_WAIT = 24 * 3600.0


def said_by(body: bytes, challenge: str = "", *, without: str = "") -> str:
    """Return what a refusal says in words, in quotation marks behind ours; '' where it says nothing.

    challenge: its header WWW-Authenticate. without: a secret that it may repeat, and that nobody is shown.
    """
    text = body.decode("utf-8", "replace") if _is_utf8(body) else body.decode("cp1252", "replace")
    if _is_no_text(text):
        text = ""
    words = list(dict.fromkeys([*_words(text.strip()), *DESCRIBED.findall(challenge)]))
    said = " ".join(" ".join("; ".join(words).split()).split())
    said = "".join(each for each in said if each.isprintable())
    if without and len(without) >= 4:
        said = said.replace(without, "…")
    if not said:
        return ""
    if len(said) > LONGEST:
        said = f"{said[:LONGEST]}…"
    return " " + _("The server says: “{words}”").format(words=said)


def wait_of(answer: http.client.HTTPResponse) -> tuple[float | None, datetime | None]:
    """How long the server asks to be left alone: seconds, or until a moment (RFC 9110, 10.2.3)."""
    asked = answer.getheader("Retry-After", "").strip()
    if asked.isascii() and asked.isdigit():
        return min(float(asked), MOST_WAIT), None
    try:
        moment = parsedate_to_datetime(asked)
    except (TypeError, ValueError, IndexError):
        return None, None
    return None, moment if moment.tzinfo else moment.replace(tzinfo=UTC)


def _is_utf8(body: bytes) -> bool:
    try:
        body[: MOST_BYTES - 4].decode()
    except UnicodeDecodeError as error:
        return len(body) > MOST_BYTES - 8 and error.start > len(body) - 8
    return True


def _is_no_text(text: str) -> bool:
    """Whether it is something else read as letters: packed, a picture. Nobody is shown that."""
    odd = sum(not each.isprintable() and not each.isspace() and each != "\x1b" for each in text)
    foreign = sum(each > "~" for each in text)
    return odd * 50 > len(text) or "\0" in text or (odd > 0 and foreign * 4 > len(text))


def _words(text: str) -> Iterator[str]:
    if text[:1] in ("{", "["):
        try:
            yield from _members(json.loads(text), 0)
        except (ValueError, RecursionError):
            yield text
        return
    yield html.unescape(HIDDEN.sub(" ", text)).strip() if text.startswith("<") else text


def _members(value: object, depth: int) -> Iterator[str]:
    if depth > 4:
        return
    if isinstance(value, list):
        for each in value[:5]:
            yield from _members(each, depth + 1)
    elif isinstance(value, dict):
        by_name = {re.sub(r"[^a-z]", "", str(key).lower()): inside for key, inside in value.items()}
        for name in SAYING:
            if name in by_name:
                yield from _members(by_name[name], depth + 1)
    elif isinstance(value, str | int) and not isinstance(value, bool) and str(value).strip():
        yield str(value).strip()
