"""The access token a client gets for its id and secret: OAuth 2.0, client credentials (RFC 6749, 4.4)."""

import http.client
import json
from base64 import b64encode
from collections.abc import Sequence
from dataclasses import dataclass
from urllib.parse import quote_plus, urlencode

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from fleet.telematics import allowed_addresses
from fleet.telematics.http_client import Line
from fleet.telematics.limits import Limits
from fleet.telematics.public_addresses import Network
from fleet.telematics.server_words import said_by, wait_of
from fleet.telematics.snapshot import SnapshotRefused

MOST_BYTES = 64 * 1024
WHY = {  # RFC 6749, 5.2
    "invalid_client": gettext_lazy(
        "The token address refuses: it doesn't know this client id and secret ({error})."
    ),
    "invalid_scope": gettext_lazy("The token address refuses: it doesn't give this scope ({error})."),
    "unauthorized_client": gettext_lazy(
        "The token address refuses: this client may not ask in this way ({error})."
    ),
    "unsupported_grant_type": gettext_lazy(
        "The token address refuses: it gives no tokens for client credentials ({error})."
    ),
}


@dataclass(frozen=True, slots=True)
class Client:
    """Who asks for a token, where, and what for."""

    token_url: str
    client_id: str
    secret: str
    scope: str = ""


def granted(client: Client, *, limits: Limits, inside: Sequence[Network] = ()) -> str:
    """Return an access token of the kind bearer. Raises SnapshotRefused.

    Id and secret are sent as a header first, and where that is refused in the body: servers take either. The
    secret goes to the token address alone: where that leads elsewhere nobody follows.
    """
    line = Line(limits=limits, inside=inside)
    try:
        return _granted(client, line, inside, in_body=False)
    except NotThisWay as error:
        first = error
    try:
        return _granted(client, line, inside, in_body=True)
    except NotThisWay as error:
        raise max(first, error, key=lambda refusal: len(refusal.sentence)) from None


class NotThisWay(SnapshotRefused):
    """The client isn't known by what was sent; perhaps it is when that is sent in the other way."""


def _granted(client: Client, line: Line, inside: Sequence[Network], *, in_body: bool) -> str:
    parts = allowed_addresses.parts_of(client.token_url, plain=inside)
    headers, body = headers_of(client, in_body=in_body), body_of(client, in_body=in_body)
    with line.ask(parts, headers, method="POST", body=body) as answer:
        sent = answer.read(MOST_BYTES)
        if late := line.late():
            raise SnapshotRefused(late)
    facts = _json(sent)
    if answer.status not in (200, 201):
        raise _refusal(answer, facts.get("error"), sent, client.secret)
    token, kind = facts.get("access_token", facts.get("accessToken")), facts.get("token_type", "bearer")
    if not isinstance(token, str) or not token or not (token.isascii() and token.isprintable()):
        said = _("The token address sent no access token (access_token). Check the address.")
        raise SnapshotRefused(said + said_by(sent, without=client.secret))
    if not isinstance(kind, str) or kind.lower() != "bearer":  # RFC 6749, 5.1: in any case of letters
        raise SnapshotRefused(
            _("The token address sent a token of a kind that isn't used here (not bearer).")
        )
    return token


def headers_of(client: Client, *, in_body: bool = False) -> dict[str, str]:
    """The headers of the request for a token; id and secret as RFC 6749, 2.3.1 writes them.

    in_body: they stand in the body instead.
    """
    headers = {"Content-Type": "application/x-www-form-urlencoded", "Accept": "application/json"}
    if in_body:
        return headers
    both = f"{quote_plus(client.client_id)}:{quote_plus(client.secret)}"
    return {"Authorization": f"Basic {b64encode(both.encode()).decode()}", **headers}


def body_of(client: Client, *, in_body: bool = False) -> bytes:
    """The body of the request for a token; in_body: with id and secret (RFC 6749, 2.3.1)."""
    asked = {"grant_type": "client_credentials"} | ({"scope": client.scope} if client.scope else {})
    own = {"client_id": client.client_id, "client_secret": client.secret} if in_body else {}
    return urlencode(asked | own).encode()


def _json(sent: bytes) -> dict[str, object]:
    try:
        facts = json.loads(sent)
    except (ValueError, RecursionError):
        return {}
    return facts if isinstance(facts, dict) else {}


def _refusal(answer: http.client.HTTPResponse, error: object, sent: bytes, secret: str) -> SnapshotRefused:
    status = answer.status
    words = said_by(sent, answer.getheader("WWW-Authenticate", ""), without=secret)
    if words.strip("”").endswith(f"“{error}"):  # it says no more than its code
        words = ""
    other_way = error in ("invalid_client", "invalid_request") or (error is None and status in (400, 401))
    kind = NotThisWay if other_way else SnapshotRefused
    if why := WHY.get(str(error)):
        return kind(why.format(error=error) + words, wrong_login=True)
    if status in (400, 401, 403):
        said = _("The token address refuses ({status}). Check client id and secret.").format(status=status)
        return kind(said + words, wrong_login=True)
    if 300 <= status < 400:
        return SnapshotRefused(_("The token address redirects. Enter the address it redirects to."))
    seconds, moment = wait_of(answer)
    said = _("The token address answered {status} instead of a token.").format(status=status)
    return SnapshotRefused(said + words, retry_after=seconds, retry_at=moment)
