"""Faults reported, tag-outs placed and cleared, on their pages."""

import pytest
from django.urls import reverse

from fleet.models import TagOut
from servicing.measurements import retest
from servicing.models import Fault, SafetyFailure
from tests.factories import CheckFactory, WorkOrderFactory
from tests.servicing.gate.hire_units import NOW
from tests.servicing.web.gate_pages import page, picture, tag_out, unit

pytestmark = pytest.mark.time_machine(NOW, tick=False)


def test_fault_is_reported_from_the_machines_page(farm):
    machine = unit(farm)
    path = reverse("fault-new", args=[machine.pk])
    assert 'capture="environment"' in page(farm, "technician", path)
    answer = farm.client("technician").post(path, {"text": "Leak", "severity": "note", "photo": picture()})
    assert answer.url == machine.get_absolute_url()
    with farm.scope():
        fault = Fault.objects.get()
    assert (fault.machine, fault.severity, fault.found_at) == (machine, "note", "field")
    empty = farm.client("technician").post(path, {"severity": "note"}).content.decode()
    assert "Say what is wrong." in empty


def test_tag_out_and_clearing_name_who_and_why(farm):
    machine = unit(farm)
    path = reverse("tag-out", args=[machine.pk])
    assert farm.client("counter").post(path, {"reason": "Seat belt torn"}).status_code == 302
    with farm.scope():
        placed = TagOut.objects.get()
    assert (placed.placed_by, placed.reason) == (farm.counter, "Seat belt torn")
    path = reverse("tag-out-clear", args=[placed.pk])
    html = page(farm, "manager", path)
    assert "Why it is safe to use again" in html
    assert "re-test" not in html
    assert farm.client("manager").post(path, {"reason": "Belt changed"}).url == machine.get_absolute_url()
    assert f"Cleared by {farm.manager} on Sun 3 May" in page(farm, "manager", path)
    again = farm.client("owner").post(path, {"reason": "Me too"})
    assert f"{farm.manager} has cleared this tag-out already" in again.content.decode()


def brake_failed(farm, machine, **limits):
    """The pedal's travel was 41 mm."""
    with farm.scope():
        check = CheckFactory(
            organisation=farm.organisation, task__version__program__organisation=farm.organisation
        )
        SafetyFailure.objects.create(
            organisation=farm.organisation,
            machine=machine,
            order=WorkOrderFactory(machine=machine),
            check_made=check,
            label="Brake pedal travel",
            kind="measure",
            safety=True,
            unit="mm",
            found_value=41,
            found_unit="mm",
            found_passes=False,
            **limits,
        )


@pytest.mark.parametrize(
    ("limits", "said"),
    [
        ({"lower": 20, "upper": 30}, "Found 41 mm; allowed: 20 to 30 mm. <a"),
        ({"lower": 50}, "Found 41 mm; allowed: at least 50 mm. <a"),
        ({"upper": 30}, "Found 41 mm; allowed: at most 30 mm. <a"),
        ({}, "Found 41 mm. <a"),
    ],
)
def test_what_failed_is_shown_beside_its_limits(farm, limits, said):
    machine = unit(farm)
    placed = tag_out(machine, farm.technician)
    brake_failed(farm, machine, **limits)
    assert said in page(farm, "manager", reverse("tag-out-clear", args=[placed.pk]))


def test_after_a_failed_safety_check_clearing_asks_for_the_re_test(farm):
    machine = unit(farm)
    placed = tag_out(machine, farm.technician)
    brake_failed(farm, machine, lower=20, upper=30)
    html = page(farm, "manager", reverse("tag-out-clear", args=[placed.pk]))
    assert "Re-test: Brake pedal travel" in html
    assert "It passes at: 20 to 30 mm" in html
    assert "Found 41 mm; allowed: 20 to 30 mm" in html

    path, manager = reverse("tag-out-clear", args=[placed.pk]), farm.client("manager")
    with farm.scope():
        asked = f"re_test-{SafetyFailure.objects.get().pk}"

    def clear(value, read_in):
        sent = {asked: value, f"{asked}_unit": read_in, "reason": "Rod adjusted"}
        return manager.post(path, sent)

    # NIST SP 811: 1 in = 25.4 mm exactly, so 30 mm lies between 1.181102 and 1.181103 in
    for value, read_in, sentence in (
        ("", "mm", "Repeat this check and enter what you found."),
        ("30.000001", "mm", "This still fails (30.000001 mm): it stays tagged out."),
        ("1.181103", "in", "This still fails (1.181103 in): it stays tagged out."),
        ("thirty", "mm", "is not a number"),
    ):
        answer = clear(value, read_in)
        assert answer.status_code == 422
        assert sentence in answer.context["form"].errors[asked][0]
        assert "Rod adjusted" in answer.content.decode(), "nothing typed is lost"
    with farm.scope():
        assert TagOut.objects.open().get() == placed

    assert clear("1.181102", "in").url == machine.get_absolute_url()
    with farm.scope():
        placed.refresh_from_db()
        assert placed.clear_reason == "Re-test passed: Brake pedal travel: 1.181102 in. Rod adjusted"
        assert placed.cleared_by == farm.manager
        assert retest.failing(machine) == []


def test_a_failed_function_test_is_made_again_in_words(farm):
    machine = unit(farm)
    placed = tag_out(machine, farm.technician)
    with farm.scope():
        check = CheckFactory(
            organisation=farm.organisation,
            task__version__program__organisation=farm.organisation,
            kind="function",
            unit="",
            lower=None,
            upper=None,
        )
        failed = SafetyFailure.objects.create(
            organisation=farm.organisation,
            machine=machine,
            order=WorkOrderFactory(machine=machine),
            check_made=check,
            label="Brake holds",
            kind="function",
            safety=True,
            found_word="fails",
            found_passes=False,
        )
    path, asked = reverse("tag-out-clear", args=[placed.pk]), f"re_test-{failed.pk}"
    answer = farm.client("owner").post(path, {asked: "fails", "reason": "Linings changed"})
    assert answer.context["form"].errors == {asked: ["This still fails (fails): it stays tagged out."]}
    assert farm.client("technician").post(path, {asked: "passes", "reason": "x"}).status_code == 403
    assert farm.client("owner").post(path, {asked: "passes"}).context["form"].errors.keys() == {"reason"}
    assert farm.client("owner").post(path, {asked: "passes", "reason": "Linings changed"}).status_code == 302
    with farm.scope():
        placed.refresh_from_db()
        assert placed.clear_reason == "Re-test passed: Brake holds: passes. Linings changed"
