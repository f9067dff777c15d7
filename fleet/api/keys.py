"""The Idempotency-Key of a request (IETF draft draft-ietf-httpapi-idempotency-key-header)."""

import re

from django.http import HttpRequest
from rest_framework.exceptions import ParseError

LONGEST = 255
QUOTED = re.compile(r'"((?:[ !#-\[\]-~]|\\["\\])*)"')  # a string of RFC 8941, 3.3.3
BARE = re.compile(r"[!#-\[\]-~]+")  # what boxes send that don't know of structured fields
HELP = (
    "A key of your own for this request, such as a UUID in quotes; 255 characters at most. Sent again with "
    "the same body within 14 days it gets the first answer and changes nothing; with another body it is "
    "refused (422); while the first is being worked on the answer is 409. A request that was refused as a "
    "whole (4xx) keeps no key."
)


def key_of(request: HttpRequest) -> str | None:
    """Return the key; None when none was sent. Raises ParseError for what can't be one."""
    given = request.headers.get("Idempotency-Key")
    if given is None:
        return None
    given = given.strip()
    quoted = QUOTED.fullmatch(given)
    key = re.sub(r"\\(.)", r"\1", quoted[1]) if quoted else given
    if not key or len(key) > LONGEST or not (quoted or BARE.fullmatch(given)):
        raise ParseError(
            f"The Idempotency-Key can't be used; send 1 to {LONGEST} printable characters in quotes."
        )
    return key
