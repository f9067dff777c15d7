"""Rows that the tests of the fleet's pages begin with."""

from datetime import UTC, datetime, timedelta
from decimal import Decimal
from html import unescape

from django.core.files.uploadedfile import SimpleUploadedFile
from django_scopes import scopes_disabled

from fleet import readings
from fleet.imports import inspection, uploads
from fleet.models import ApiToken, Reading

NOON = datetime(2026, 3, 1, 12, tzinfo=UTC)


def take(house, machine, shows, *, days=0, **kwargs):
    """Let a reading in by the one door; return its receipt."""
    row = readings.Submitted(machine.pk, NOON + timedelta(days=days), shows)
    given = {"source": "page", "sender": "page", "member": house.technician} | kwargs
    (receipt,) = readings.take(organisation=house.organisation, rows=[row], **given)
    return receipt


def held_reading(house, machine=None):
    """A reading that waits: a digit too many, so that the system can say what was likely meant."""
    machine = machine or house.machine()
    take(house, machine, "1100.0")
    receipt = take(house, machine, "11240", days=7)
    assert receipt.state == "held"
    assert receipt.reading.suggestion == Decimal("1124.00")
    return receipt.reading


def device_token(house):
    """A device's token as a row; its secret is thrown away."""
    with house.scope():
        return ApiToken.issue(name="box", created_by=house.owner)[0]


def own_token(house, role):
    """A token of a member as a row; its secret is thrown away."""
    member = getattr(house, role)
    with house.scope():
        return ApiToken.issue(name="mine", created_by=member, member=member)[0]


def sent_file(house, text="machine,date,hours\nT-01,2026-01-05,10\n", name="hours.csv"):
    """A file that waits for its columns to be confirmed."""
    upload = SimpleUploadedFile(name, text.encode())
    sent = uploads.receive(upload=upload, member=house.manager)
    inspection.read(sent.pk)
    sent.refresh_from_db()
    return sent


def all_readings():
    """Every reading there is, whoever's."""
    with scopes_disabled():
        return list(Reading.objects.order_by("pk"))


def text_of(answer):
    """A page as it is read: entities resolved, every space a plain one."""
    return unescape(answer.content.decode()).replace("\u202f", " ").replace("\xa0", " ")
