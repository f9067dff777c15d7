"""Faults and their photos."""

from datetime import UTC, datetime, timedelta
from io import BytesIO

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from PIL import Image

from fleet.core.errors import FleetError, NotAllowed
from servicing.gate.faults import open_by_machine, report_fault
from servicing.measurements import retest
from servicing.models import Fault, SafetyFailure
from tests.factories import CheckFactory, FaultFactory, MachineFactory, WorkOrderFactory


@pytest.fixture(autouse=True)
def photo_folder(settings, tmp_path):
    settings.MEDIA_ROOT = tmp_path
    return tmp_path


def picture(kind="JPEG", name="phone.jpg", size=(40, 30)):
    file = BytesIO()
    Image.new("RGB", size, "brown").save(file, kind)
    return SimpleUploadedFile(name, file.getvalue())


def test_fault_is_kept_with_who_and_where(in_farm, machine):
    fault = report_fault(
        machine=machine, text=" Oil leak \n", severity="stops", member=in_farm.technician, found_at="shop"
    )
    fault.refresh_from_db()
    assert (fault.text, fault.severity, fault.found_at) == ("Oil leak", "stops", "shop")
    assert fault.reported_by == in_farm.technician
    assert not fault.photo
    assert list(Fault.objects.grave()) == [fault]


@pytest.mark.parametrize(("kind", "suffix"), [("JPEG", ".jpg"), ("PNG", ".png"), ("WEBP", ".webp")])
def test_photo_is_named_after_what_it_is(in_farm, machine, photo_folder, kind, suffix):
    fault = report_fault(
        machine=machine,
        text="Leak",
        severity="soon",
        member=in_farm.counter,
        photo=picture(kind, name="page.html"),
    )
    assert fault.photo.name.startswith(f"{in_farm.organisation.pk}/faults/")
    assert fault.photo.name.endswith(suffix)
    with Image.open(photo_folder / fault.photo.name) as kept:
        assert kept.format == kind


@pytest.mark.parametrize(
    ("photo", "said"),
    [
        (SimpleUploadedFile("photo.jpg", b"<script>alert(1)</script>"), "not a photo"),
        (SimpleUploadedFile("photo.jpg", b""), "not a photo"),
        (picture("GIF", "photo.jpg"), "not a photo"),
        (SimpleUploadedFile("photo.jpg", b"\xff\xd8" + bytes(10 * 1024 * 1024)), "at most 10 MB"),
    ],
    ids=["a script", "empty", "another kind", "too big"],
)
def test_what_is_no_photo_is_refused_and_nothing_kept(in_farm, machine, photo_folder, photo, said):
    with pytest.raises(FleetError) as refused:
        report_fault(machine=machine, text="Leak", severity="soon", member=in_farm.counter, photo=photo)
    assert refused.value.field == "photo"
    assert said in refused.value.sentence
    assert not Fault.objects.exists()
    assert list(photo_folder.iterdir()) == []


@pytest.mark.parametrize(("wrong", "field"), [({"text": " "}, "text"), ({"severity": "bad"}, "severity")])
def test_wrong_entries_name_their_field(in_farm, machine, wrong, field):
    with pytest.raises(FleetError) as refused:
        report_fault(
            **{"machine": machine, "text": "Leak", "severity": "soon", "member": in_farm.counter, **wrong}
        )
    assert refused.value.field == field


@pytest.mark.parametrize(
    ("ago", "told"), [(timedelta(days=365), True), (timedelta(days=365, seconds=1), False)]
)
def test_a_fault_alike_is_told_for_a_year_after_it_was_fixed(in_farm, machine, ago, told):
    now = datetime(2026, 5, 4, 10, 0, tzinfo=UTC)
    before = FaultFactory(machine=machine, text="Hydraulic hose leaks", fixed_at=now - ago)
    again = FaultFactory(machine=machine, text="Hydraulic hose leaks")
    (faults,) = open_by_machine(now=now)
    (standing,) = faults.standing
    assert standing.fault == again
    assert list(standing.others) == ([before] if told else [])


def test_strangers_report_nothing(machine, stranger):
    with pytest.raises(NotAllowed):
        report_fault(machine=machine, text="Leak", severity="soon", member=stranger.owner)


def safety_check(machine):
    organisation = machine.organisation
    return CheckFactory(
        organisation=organisation, task__version__program__organisation=organisation, safety=True
    )


def failure(check, machine):
    return SafetyFailure.objects.create(
        organisation=machine.organisation,
        machine=machine,
        order=WorkOrderFactory(machine=machine),
        check_made=check,
        label=check.label,
        kind=check.kind,
        safety=check.safety,
        found_passes=False,
    )


def test_another_machines_failure_is_not_this_ones(in_farm, machine):
    check = CheckFactory(
        organisation=machine.organisation,
        task__version__program__organisation=machine.organisation,
        safety=True,
    )
    failed = failure(check, machine)
    assert retest.failing(machine) == [failed]
    assert retest.failing(MachineFactory(organisation=machine.organisation)) == []
