"""Acts inside the served demonstration, in a process of its own: it has no worker and no mailbox."""

import os
import subprocess
import sys
from pathlib import Path

from tests.browser.served import ROOT


def inside(data: Path, site: str, code: str) -> str:
    """Run this code on the demonstration's data; return what it prints."""
    done = subprocess.run(
        [sys.executable, "manage.py", "shell", "--no-imports", "-c", code],
        cwd=ROOT,
        env={
            **os.environ,
            "HOURMARK_ENV": "demo",
            "HOURMARK_DATA": str(data),
            "HOURMARK_SITE_URL": site,
            "DATABASE_URL": "",
            "REDIS_URL": "",
        },
        check=True,
        stdout=subprocess.PIPE,
        text=True,
    )
    return done.stdout.strip()


SENT = """
import re
from django.conf import settings
from django_scopes import scope, scopes_disabled
from notifications import outbox
from notifications.models import Message
settings.EMAIL_BACKEND = "django.core.mail.backends.locmem.EmailBackend"
from django.core import mail
mail.outbox = []
with scopes_disabled():
    message = Message.objects.filter(address=ADDRESS).latest("pk")
with scope(organisation=message.organisation_id):
    outbox.deliver(message_id=message.pk)
print(re.findall(r"^https?://.*$", mail.outbox[-1].body, re.MULTILINE)[0])
"""


def link_mailed_to(data: Path, site: str, address: str) -> str:
    """Send the last message to that address and return the link in it."""
    return inside(data, site, SENT.replace("ADDRESS", repr(address)))
