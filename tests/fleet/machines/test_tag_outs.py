"""A tagged-out machine stays so until a named person clears it, with a reason."""

import pytest

from fleet.core.errors import FleetError, NotAllowed, WrongState
from fleet.machines import tag_outs
from fleet.models import Machine


def test_a_machine_is_tagged_out_until_it_is_cleared(in_farm, machine):
    tag_out = tag_outs.place(machine=machine, reason=" Brake fades ", member=in_farm.counter)
    assert (tag_out.reason, tag_out.placed_by) == ("Brake fades", in_farm.counter)
    assert Machine.objects.with_state().get(pk=machine.pk).state == Machine.State.TAGGED_OUT
    tag_outs.clear(tag_out=tag_out, reason="Pads changed, tried on the slope", member=in_farm.manager)
    assert (tag_out.cleared_by, tag_out.clear_reason) == (
        in_farm.manager,
        "Pads changed, tried on the slope",
    )
    assert tag_out.cleared_at is not None
    assert Machine.objects.with_state().get(pk=machine.pk).state == Machine.State.READY


def test_it_is_cleared_once(in_farm, machine):
    tag_out = tag_outs.place(machine=machine, reason="Brake fades", member=in_farm.counter)
    tag_outs.clear(tag_out=tag_out, reason="Pads changed", member=in_farm.manager)
    with pytest.raises(WrongState, match=str(in_farm.manager)):
        tag_outs.clear(tag_out=tag_out, reason="Again", member=in_farm.owner)
    tag_out.refresh_from_db()
    assert (tag_out.cleared_by, tag_out.clear_reason) == (in_farm.manager, "Pads changed")


def test_both_need_a_reason_and_clearing_needs_the_right(in_farm, machine, stranger):
    for reason in ("", "  "):
        with pytest.raises(FleetError) as error:
            tag_outs.place(machine=machine, reason=reason, member=in_farm.counter)
        assert error.value.field == "reason"
    tag_out = tag_outs.place(machine=machine, reason="Brake fades", member=in_farm.counter)
    with pytest.raises(FleetError) as error:
        tag_outs.clear(tag_out=tag_out, reason=" ", member=in_farm.manager)
    assert error.value.field == "reason"
    for member in (in_farm.technician, in_farm.counter, stranger.owner):
        with pytest.raises(NotAllowed):
            tag_outs.clear(tag_out=tag_out, reason="Looks fine", member=member)
    with pytest.raises(NotAllowed):
        tag_outs.place(machine=machine, reason="Mine now", member=stranger.owner)
