"""Parts: stock by yard, what open orders reserve, what equivalents cover, and what to buy."""

from datetime import date, timedelta
from decimal import Decimal as D

import pytest
import time_machine

from fleet.core.errors import FleetError, NotAllowed
from servicing import workorders
from servicing.models import Part, Stock
from servicing.stock import parts, purchasing
from tests.factories import DutyFactory, MachineFactory, PartFactory, StockFactory, YardFactory

TODAY = date(2026, 6, 1)
FACTS = {
    "number": "HX-1",
    "name": "Oil filter",
    "grade": "",
    "unit": "pc",
    "unit_cost": D(9),
    "equivalents": (),
}


@pytest.fixture
def own(in_farm):
    return {"organisation": in_farm.organisation}


@pytest.fixture
def filter_(own):
    return PartFactory(**own, number="HX-1101", name="Oil filter")


def asking(machine, part, quantity, **values):
    """A duty whose task asks for so much of a part."""
    duty = DutyFactory(machine=machine, **values)
    duty.task.supplies.create(organisation=machine.organisation, part=part, quantity=D(quantity))
    return duty


def test_planners_add_and_change_parts(in_farm, own, filter_):
    added = parts.add(member=in_farm.manager, **{**FACTS, "number": " hx-9 ", "equivalents": [filter_]})
    assert (added.number, list(added.equivalents.all())) == ("hx-9", [filter_])
    assert list(filter_.equivalents.all()) == [added], "either stands in for the other"
    changed = parts.change(part=added, member=in_farm.manager, **{**FACTS, "unit": "L", "grade": "SAE 30"})
    assert (changed.number, changed.unit, changed.equivalents.count()) == ("HX-1", "L", 0)


@pytest.mark.parametrize("role", ["technician", "counter"])
def test_others_change_nothing(in_farm, filter_, role):
    member = getattr(in_farm, role)
    with pytest.raises(NotAllowed):
        parts.add(member=member, **FACTS)
    with pytest.raises(NotAllowed):
        parts.change(part=filter_, member=member, **FACTS)
    with pytest.raises(NotAllowed):
        parts.count(part=filter_, yard=in_farm.yard, member=member, quantity=D(1), reorder_point=D(0))
    assert not Stock.objects.exists()


@pytest.mark.parametrize(
    ("wrong", "field"),
    [
        ({"number": " "}, "number"),
        ({"name": ""}, "name"),
        ({"unit_cost": D(-1)}, "unit_cost"),
        ({"number": "hx-1101"}, "number"),
    ],
)
def test_what_is_wrong_is_said_at_its_field(in_farm, filter_, wrong, field):
    with pytest.raises(FleetError) as refused:
        parts.add(member=in_farm.manager, **{**FACTS, **wrong})
    assert refused.value.field == field
    assert Part.objects.count() == 1


def test_equivalents_are_counted_alike(in_farm, filter_):
    with pytest.raises(FleetError, match="counted in L"):
        parts.add(member=in_farm.manager, **{**FACTS, "unit": "L", "equivalents": [filter_]})


def test_a_unit_with_quantities_in_it_stays(in_farm, own, filter_):
    StockFactory(part=filter_, yard=in_farm.yard)
    with pytest.raises(FleetError) as refused:
        parts.change(part=filter_, member=in_farm.manager, **{**FACTS, "unit": "L"})
    assert refused.value.field == "unit"


def test_counting_replaces_what_was_thought(in_farm, filter_):
    for quantity in ("4", "7.5"):
        stock = parts.count(
            part=filter_, yard=in_farm.yard, member=in_farm.manager, quantity=D(quantity), reorder_point=D(2)
        )
    assert (stock.quantity, stock.reorder_point, Stock.objects.count()) == (D("7.5"), 2, 1)
    with pytest.raises(FleetError) as refused:
        parts.count(
            part=filter_, yard=in_farm.yard, member=in_farm.manager, quantity=D(-1), reorder_point=D(0)
        )
    assert refused.value.field == "quantity"


def test_another_organisations_yard_holds_none_of_it(in_farm, stranger, filter_):
    with pytest.raises(NotAllowed):
        parts.count(
            part=filter_, yard=stranger.yard, member=in_farm.manager, quantity=D(1), reorder_point=D(0)
        )


def test_the_sum_over_yards_is_in_stock(in_farm, own, filter_):
    StockFactory(part=filter_, yard=in_farm.yard, quantity=D(3))
    StockFactory(part=filter_, yard=YardFactory(**own), quantity=D("1.5"))
    assert Part.objects.get().in_stock == D("4.5")


def test_use_leaves_the_machines_yard_and_may_go_below_nought(in_farm, own, filter_):
    away = YardFactory(**own)
    StockFactory(part=filter_, yard=in_farm.yard, quantity=D(3))
    parts.take(yard=away, used={filter_: D(2)})
    assert dict(filter_.stocks.values_list("yard", "quantity")) == {in_farm.yard.pk: 3, away.pk: -2}


def test_open_orders_reserve_in_their_machines_yard(in_farm, own, filter_):
    away = YardFactory(**own)
    here = MachineFactory(**own, yard=in_farm.yard)
    there = MachineFactory(**own, yard=away)
    for machine, quantities in ((here, ("1", "2")), (there, ("0.5",))):
        duties = [asking(machine, filter_, quantity) for quantity in quantities]
        workorders.plan(member=in_farm.manager, machine=machine, duties=duties)
    asking(here, filter_, "99")
    assert parts.reserved() == {(filter_.pk, in_farm.yard.pk): 3, (filter_.pk, away.pk): D("0.5")}
    order = there.orders.get()
    workorders.cancel(order=order, member=in_farm.manager, revision=order.revision, reason="Sold.")
    assert parts.reserved() == {(filter_.pk, in_farm.yard.pk): 3}


@pytest.mark.parametrize(
    ("quantity", "reserved", "reorder", "short", "to_reorder"),
    [
        ("5", "0", "0", "0", False),
        ("0", "0", "0", "0", False),  # nothing asked of it, no point set
        ("5", "6", "0", "1", True),
        ("5", "2", "3", "0", True),  # at the point
        ("5", "3", "3", "1", True),
        ("5", "1", "3", "0", False),
        ("-1", "0", "0", "1", True),
    ],
)
def test_when_a_yard_is_short(in_farm, quantity, reserved, reorder, short, to_reorder):
    row = parts.YardStock(in_farm.yard, D(quantity), D(reserved), D(reorder))
    assert (row.short, row.to_reorder) == (D(short), to_reorder)


def test_an_equivalent_in_stock_covers_what_is_short(in_farm, own, filter_):
    other = PartFactory(**own, number="HX-1102", name="Oil filter, long", in_stock=4)
    filter_.equivalents.add(other)
    machine = MachineFactory(**own, yard=in_farm.yard)
    workorders.plan(member=in_farm.manager, machine=machine, duties=[asking(machine, filter_, "3")])
    covered = parts.covered(parts.stocktaking(Part.objects.all()))
    assert (covered[filter_.pk].missing, dict(covered[filter_.pk].stand_ins)) == (3, {other.pk: 3})


class TestPurchaseList:
    """The law itself is checked in ledger/test_demand.py."""

    @pytest.fixture(autouse=True)
    def _at_noon(self, in_farm, own):
        self.machine = MachineFactory(**own, yard=in_farm.yard)
        with time_machine.travel("2026-06-01T12:00:00Z", tick=False):
            yield

    def duty(self, part, quantity, likely=10, **values):
        days = {
            name: TODAY + timedelta(days=likely + away)
            for name, away in (("early", -2), ("likely", 0), ("late", 4))
        }
        return asking(self.machine, part, quantity, mark_hours=D(9000), **{**days, **values})

    def row(self, part, days=30):
        return {row.part: row for row in purchasing.purchase_list(days=days)}.get(part)

    def test_what_falls_due_for_sure_is_bought(self, filter_):
        self.duty(filter_, "2")
        row = self.row(filter_)
        assert (row.wanted.expected, row.wanted.enough) == (2, 2)
        assert (row.expected, row.enough) == (2, 2)
        assert row.cost == 2 * filter_.unit_cost

    def test_stock_and_reserved_parts_are_counted_once(self, in_farm, filter_):
        StockFactory(part=filter_, yard=in_farm.yard, quantity=D(4))
        self.duty(filter_, "1")
        planned = self.duty(filter_, "2")
        workorders.plan(member=in_farm.manager, machine=self.machine, duties=[planned])
        row = self.row(filter_)
        assert (row.wanted.expected, row.stock.reserved, row.enough) == (1, 2, 0)
        Stock.objects.update(quantity=D(2))
        assert self.row(filter_).enough == 1

    def test_half_a_chance_asks_for_half_on_average_and_all_to_be_sure(self, filter_):
        self.duty(filter_, "2", likely=30)
        row = self.row(filter_)
        assert row.wanted.expected == 1
        assert (row.expected, row.enough) == (1, 2)

    def test_what_lies_beyond_the_days_is_not_bought(self, filter_):
        self.duty(filter_, "2", likely=80)
        assert self.row(filter_, 30).enough == 0
        assert self.row(filter_, 90).enough == 2

    def test_litres_are_not_rounded_up_and_pieces_are(self, own, filter_):
        oil = PartFactory(**own, unit="L", number="HX-1001")
        self.duty(oil, "4.3")
        self.duty(filter_, "1.5")
        assert (self.row(oil).enough, self.row(filter_).enough) == (D("4.30"), 2)

    def test_equivalents_stand_in(self, own, filter_):
        other = PartFactory(**own, number="HX-1102", in_stock=1)
        filter_.equivalents.add(other)
        self.duty(filter_, "3")
        row = self.row(filter_)
        assert (row.enough, row.stand_ins) == (2, ((other, D(1)),))

    def test_an_equivalent_that_is_asked_for_itself_does_not(self, own, filter_):
        other = PartFactory(**own, number="HX-1102", in_stock=1)
        filter_.equivalents.add(other)
        self.duty(filter_, "3")
        self.duty(other, "1")
        assert self.row(filter_).enough == 3

    def test_retired_machines_ask_for_nothing(self, filter_):
        self.duty(filter_, "3")
        self.machine.retired_on = TODAY
        self.machine.save()
        assert self.row(filter_) is None

    def test_queries_stay_constant(self, own, filter_, django_assert_max_num_queries):
        for n in range(12):
            self.duty(PartFactory(**own, number=f"P-{n}", in_stock=n), "1")
        with django_assert_max_num_queries(12):
            assert len(purchasing.purchase_list(days=60)) == 12


def test_a_member_without_the_right_of_another_house_is_refused(in_farm, stranger, filter_):
    with pytest.raises(NotAllowed):
        parts.change(part=filter_, member=stranger.owner, **FACTS)
