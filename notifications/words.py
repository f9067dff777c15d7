"""The words of mails. They stand in templates/notifications: `joining.txt`, with `joining_subject.txt`."""

from typing import TypedDict

from django.conf import settings
from django.template.loader import render_to_string


class Words(TypedDict):
    subject: str
    body: str


def written(mail: str, **about: object) -> Words:
    """Return a mail's words, as plain text; every template also knows `site`, our address."""
    context = {"site": settings.SITE_URL, **about}
    subject, body = (
        render_to_string(f"notifications/{mail}{part}.txt", context).rstrip() for part in ("_subject", "")
    )
    return {"subject": subject, "body": body}
