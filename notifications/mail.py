"""A stored message written as a mail (RFC 5322): the same header, Message-ID and date on every try.

So is the body, but for a one-time link: that is made each time (`one_time_links`)."""

from email.utils import format_datetime, parseaddr

from django.conf import settings
from django.core.mail import EmailMessage
from django.core.mail.message import sanitize_address
from django.utils.translation import gettext as _

from notifications import one_time_links
from notifications.models import Message
from notifications.refusals import Misconfigured, Refused

LONGEST_LOCAL_PART = 64  # octets before the @; RFC 5321, 4.5.3.1.1
LONGEST_ADDRESS = 254  # octets; RFC 5321, 4.5.3.1.3, less the angle brackets


def write_mail(message: Message) -> EmailMessage:
    """Return the mail, known to be one that can be written.

    Raises Refused for a message that no mail can be made of, Misconfigured where the sender is at fault.
    """
    _check_sender()
    _check_address(message.address)
    _check_subject(message.subject)
    mail = EmailMessage(
        subject=message.subject,
        body=one_time_links.body(message),
        to=[message.address],
        headers={
            "Message-ID": f"<{message.mail_id}>",
            "Date": format_datetime(message.made_at),
            "Auto-Submitted": "auto-generated",
        },
    )
    try:
        mail.message().as_bytes(linesep="\r\n")  # type: ignore[call-arg]  # it is Django's own message
    except Exception as error:  # the mail package has many; each would come back with every try
        raise Refused(_("It can't be written as a mail: {error}").format(error=error)) from error
    return mail


def is_ascii_mailbox(address: str) -> bool:
    """Whether the part before the @ needs no extension of the mail server (RFC 6531)."""
    return address.rpartition("@")[0].isascii()


def _check_sender() -> None:
    sender = settings.DEFAULT_FROM_EMAIL
    if not _is_one_address(sender) or not is_ascii_mailbox(parseaddr(sender)[1]):
        raise Misconfigured(
            _("HOURMARK_MAIL_FROM must be one plain mail address, not {sender}.").format(sender=repr(sender))
        )


def _check_address(address: str) -> None:
    if not address:
        raise Refused(_("There is no mail address to send it to. Enter one for this person."))
    if not _is_one_address(address):
        raise Refused(
            _("{address} is not a mail address. Enter another for this person.").format(address=repr(address))
        )
    local_part = address.rpartition("@")[0]
    if len(local_part.encode()) > LONGEST_LOCAL_PART or len(address.encode()) > LONGEST_ADDRESS:
        raise Refused(
            _("{address} is too long for a mail address. Enter another for this person.").format(
                address=address
            )
        )


def _check_subject(subject: str) -> None:
    if _has_control(subject, allowed="\t"):
        raise Refused(
            _(
                "Its subject has a line break or another character that no mail can carry. "
                "Take it out of the organisation's name; the next mail will go."
            )
        )


def _is_one_address(text: str) -> bool:
    """Whether this is one address, with or without a name, that Django can put into a header."""
    try:
        address = parseaddr(sanitize_address(text, "utf-8"))[1]
    except (ValueError, IndexError):
        return False
    local_part, _at, domain = address.rpartition("@")
    return bool(local_part and domain) and not _has_control(text, allowed="")


def _has_control(text: str, *, allowed: str) -> bool:
    return any(ord(each) < 32 or ord(each) == 127 for each in text if each not in allowed)
