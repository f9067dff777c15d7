"""A file on its way in: sent, looked at, started; and what came of it."""

from django.core.files.uploadedfile import SimpleUploadedFile

from fleet import tasks
from fleet.imports import uploads
from fleet.imports.column_mapping import Plan

HEAD = "machine;date;hours\n"
BODY = "T-01;05.01.2026;1.010,5\nT-01;25.01.2026;1.031,5\nT-02;05.01.2026;400\nT-99;05.01.2026;7\n"


def send(house, text=HEAD + BODY, name="hours.csv", role="manager"):
    """A file that waits for the worker."""
    data = text if isinstance(text, bytes) else text.encode()
    return uploads.receive(upload=SimpleUploadedFile(name, data), member=getattr(house, role))


def receive(house, *args, **kwargs):
    """A file that a worker has looked at."""
    sent = send(house, *args, **kwargs)
    tasks.read_file(sent_id=sent.pk, organisation_id=house.organisation.pk)
    sent.refresh_from_db()
    return sent


def start(house, sent, role="manager", **changed):
    """Have a file taken in, its first readings confirmed."""
    plan = Plan.kept(sent.plan | {"first": True} | changed)
    return uploads.start(sent=sent, plan=plan, member=getattr(house, role))


def taken(sent):
    sent.refresh_from_db()
    return sent.state, sent.done, sent.counted, sent.held, sent.duplicate, sent.refused
