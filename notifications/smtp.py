"""A mail handed over, with an honest answer: taken, refused, not yet, or nobody can know.

Django's SMTP backend raises the same error for a connection lost before a mail was sent and after. Here the
conversation (RFC 5321) is held step by step: until the dot that ends the content has gone out, the server
can't have taken the mail; from then on only its answer tells. Settings are read as by that backend.
"""

import re
import smtplib
import ssl
from contextlib import suppress
from dataclasses import dataclass
from email.generator import BytesGenerator
from email.message import Message as Content
from email.policy import SMTPUTF8
from email.utils import parseaddr
from io import BytesIO
from typing import cast

from django.core.mail import EmailMessage, get_connection
from django.core.mail.backends.smtp import EmailBackend
from django.core.mail.message import sanitize_address
from django.utils.translation import gettext as _

from notifications.mail import is_ascii_mailbox
from notifications.refusals import Misconfigured, NotYet, Refused, ServerAway, Unanswered, Unreachable

ENCODING = "utf-8"
WAITING_TO_PART = 5.0  # seconds for the answer to QUIT, on which nothing hangs
TOO_LARGE = 552  # RFC 1870, 6.1
SIGN_IN_FIRST = {530, 534, 535, 538}  # RFC 4954, 6
LINE_OF_DOT = re.compile(rb"^\.", re.MULTILINE)


@dataclass(frozen=True)
class Envelope:
    """What is said to the server: addresses without names, and the content with its lines ended by CRLF."""

    sender: str
    recipient: str
    content: bytes
    utf8: bool


def hand_over(mail: EmailMessage) -> None:
    """Give a mail with one recipient to the mail server of the settings, or to what stands in for one.

    Returns once it was taken. Raises Refused, NotYet, Misconfigured or Unanswered.
    """
    try:
        connection = get_connection()
    except ValueError as error:
        raise Misconfigured(_("EMAIL_URL can't be used: {error}").format(error=error)) from error
    if isinstance(connection, EmailBackend):
        _converse(connection, mail)
        return
    try:
        connection.send_messages([mail])
    except OSError as error:
        raise NotYet(_("The mail could not be written: {error}").format(error=error)) from error


def _converse(connection: EmailBackend, mail: EmailMessage) -> None:
    try:
        server = _connect(connection)
        _deliver(server, _envelope(mail, server))
    except smtplib.SMTPException as error:
        raise NotYet(
            _("The mail server broke off before it had the whole mail: {error}").format(error=error)
        ) from error
    finally:
        _part(connection)


def _connect(connection: EmailBackend) -> smtplib.SMTP:
    """Connect, begin TLS and sign in as the settings say.

    A refusal here is one of the installation, not of this mail.
    """
    try:
        connection.open()
        server = cast(smtplib.SMTP, connection.connection)
        server.ehlo_or_helo_if_needed()
    except (smtplib.SMTPNotSupportedError, UnicodeError) as error:
        raise Misconfigured(
            _("The mail server can't be used as EMAIL_URL says: {error}").format(error=error)
        ) from error
    except smtplib.SMTPAuthenticationError as error:
        if _may_pass(error.smtp_code):
            raise ServerAway(
                _("The mail server can't sign us in now: {answer}").format(answer=_words(error))
            ) from error
        raise Misconfigured(
            _("The mail server refused the name and password in EMAIL_URL: {answer}").format(
                answer=_words(error)
            )
        ) from error
    except smtplib.SMTPResponseException as error:
        kind = ServerAway if _may_pass(error.smtp_code) else Misconfigured
        raise kind(
            _("The mail server takes no mail from us: {answer}").format(answer=_words(error))
        ) from error
    except (smtplib.SMTPServerDisconnected, ssl.SSLEOFError, ssl.SSLZeroReturnError) as error:
        raise ServerAway(
            _("The mail server broke off as we connected: {error}").format(error=error)
        ) from error
    except (smtplib.SMTPException, ssl.SSLError) as error:
        raise Misconfigured(
            _("The mail server can't be used as EMAIL_URL says: {error}").format(error=error)
        ) from error
    except OSError as error:
        raise Unreachable(_("The mail server can't be reached: {error}").format(error=error)) from error
    return server


def _envelope(mail: EmailMessage, server: smtplib.SMTP) -> Envelope:
    (address,) = mail.recipients()
    content = mail.message()
    sender = parseaddr(sanitize_address(mail.from_email, ENCODING))[1]
    if is_ascii_mailbox(address):
        recipient = parseaddr(sanitize_address(address, ENCODING))[1]
        return Envelope(
            sender,
            recipient,
            content.as_bytes(linesep="\r\n"),  # type: ignore[call-arg]  # it is Django's own message
            utf8=False,
        )
    if not server.has_extn("smtputf8"):
        raise Refused(
            _(
                "The mail server takes no address with such letters before the @: {address}. "
                "Enter another for this person."
            ).format(address=address)
        )
    del content["To"]
    Content.__setitem__(content, "To", address)  # as it is, where Django would encode it for older servers
    written = BytesIO()
    BytesGenerator(written, mangle_from_=False, policy=SMTPUTF8).flatten(content)
    return Envelope(sender, address, written.getvalue(), utf8=True)


def _deliver(server: smtplib.SMTP, envelope: Envelope) -> None:
    options = [f"SIZE={len(envelope.content)}"] if server.has_extn("size") else []
    options += ["SMTPUTF8", "BODY=8BITMIME"] if envelope.utf8 else []
    code, said = server.mail(envelope.sender, options)
    if code != 250:
        _raise_for(code, said, ours=not _may_pass(code) and code != TOO_LARGE)
    code, said = server.rcpt(envelope.recipient)
    if code not in (250, 251):
        _raise_for(code, said, ours=code in SIGN_IN_FIRST)
    code, said = server.docmd("DATA")
    if code != 354:
        _raise_for(code, said)
    server.send(LINE_OF_DOT.sub(b"..", envelope.content))
    if not envelope.content.endswith(b"\r\n"):
        server.send(b"\r\n")
    _end_content(server)


def _end_content(server: smtplib.SMTP) -> None:
    """Send the dot. From here on the mail may have been taken, whatever happens but a clear refusal."""
    try:
        server.send(b".\r\n")
        code, said = server.getreply()
    except OSError as error:  # among them every error of smtplib
        raise Unanswered(
            _("The connection broke before the mail server answered ({error}).").format(error=error)
        ) from error
    if 200 <= code < 300:
        return
    if 400 <= code < 600:
        _raise_for(code, said)
    raise Unanswered(
        _("The mail server's answer makes no sense ({answer}).").format(answer=f"{code} {_text(said)}")
    )


def _raise_for(code: int, said: bytes, *, ours: bool = False) -> None:
    """Raise what an answer other than the hoped-for one means; ours: it would meet every mail we send."""
    words = f"{code} {_text(said)}"
    if ours:
        raise Misconfigured(_("The mail server takes no mail from us: {answer}").format(answer=words))
    if 500 <= code < 600:
        raise Refused(_("The mail server refused it: {answer}").format(answer=words))
    raise NotYet(_("The mail server did not take it: {answer}").format(answer=words))


def _part(connection: EmailBackend) -> None:
    """Take leave of the server. How that goes changes nothing of what became of the mail."""
    server = connection.connection or connection._partial_connection  # type: ignore[attr-defined]
    connection.connection = connection._partial_connection = None  # type: ignore[attr-defined]
    if server is None:
        return
    with suppress(OSError):
        if server.sock is not None:
            server.sock.settimeout(WAITING_TO_PART)
            server.quit()
    server.close()


def _may_pass(code: int) -> bool:
    return not 500 <= code < 600


def _words(error: smtplib.SMTPResponseException) -> str:
    return f"{error.smtp_code} {_text(error.smtp_error)}"


def _text(said: bytes | str) -> str:
    return said.decode("utf-8", "replace") if isinstance(said, bytes) else said
