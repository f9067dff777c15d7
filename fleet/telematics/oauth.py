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

    The secret goes to the token address alone: where that leads elsewhere nobody follows.
    """
    parts = allowed_addresses.parts_of(client.token_url, plain=inside)
    line = Line(limits=limits, inside=inside)
    with line.ask(parts, headers_of(client), method="POST", body=body_of(client)) as answer:
        sent = answer.read(MOST_BYTES)
        if late := line.late():
            raise SnapshotRefused(late)
    facts = _json(sent)
    if answer.status != 200:
        raise _refusal(answer, facts.get("error"))
    token, kind = facts.get("access_token"), facts.get("token_type")
    if not isinstance(token, str) or not token or not (token.isascii() and token.isprintable()):
        raise SnapshotRefused(_("The token address sent no access token. Check the address."))
    if not isinstance(kind, str) or kind.lower() != "bearer":  # RFC 6749, 5.1: in any case of letters
        raise SnapshotRefused(
            _("The token address sent a token of a kind that isn't used here (not bearer).")
        )
    return token


def headers_of(client: Client) -> dict[str, str]:
    """The headers of the request for a token; id and secret as RFC 6749, 2.3.1 writes them."""
    both = f"{quote_plus(client.client_id)}:{quote_plus(client.secret)}"
    return {
        "Authorization": f"Basic {b64encode(both.encode()).decode()}",
        "Content-Type": "application/x-www-form-urlencoded",
        "Accept": "application/json",
    }


def body_of(client: Client) -> bytes:
    """The body of the request for a token."""
    asked = {"grant_type": "client_credentials"} | ({"scope": client.scope} if client.scope else {})
    return urlencode(asked).encode()


def _json(sent: bytes) -> dict[str, object]:
    try:
        facts = json.loads(sent)
    except (ValueError, RecursionError):
        return {}
    return facts if isinstance(facts, dict) else {}


def _refusal(answer: http.client.HTTPResponse, error: object) -> SnapshotRefused:
    status = answer.status
    if why := WHY.get(str(error)):
        return SnapshotRefused(why.format(error=error), wrong_login=True)
    if status in (400, 401, 403):
        return SnapshotRefused(
            _("The token address refuses ({status}). Check client id and secret.").format(status=status),
            wrong_login=True,
        )
    if 300 <= status < 400:
        return SnapshotRefused(_("The token address redirects. Enter the address it redirects to."))
    said = _("The token address answered {status} instead of a token.")
    return SnapshotRefused(said.format(status=status))
