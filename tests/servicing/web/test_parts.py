"""The parts' pages."""

import csv
from datetime import timedelta
from decimal import Decimal as D

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from servicing import workorders
from servicing.models import Duty, Part, Stock
from tests.factories import DutyFactory, PartFactory, StockFactory


@pytest.fixture
def part(farm):
    made = PartFactory(
        organisation=farm.organisation, number="HX-1101", name="Oil filter", unit_cost=D("12.50")
    )
    StockFactory(part=made, yard=farm.yard, quantity=D(1))
    return made


@pytest.fixture
def asked(farm, part):
    """A duty that falls due for sure and asks for three."""
    machine = farm.machine()
    soon = machine.today() + timedelta(days=5)
    duty = DutyFactory(machine=machine, mark_hours=D(9000), early=soon, likely=soon, late=soon)
    with farm.scope():
        duty.task.supplies.create(organisation=farm.organisation, part=part, quantity=D(3))
    return duty


def said(answer, status=200):
    assert answer.status_code == status
    return answer.content.decode("utf-8-sig")


def test_the_list_says_what_is_short_and_what_may_stand_in(farm, part, asked):
    other = PartFactory(organisation=farm.organisation, number="HX-1102", name="Long filter", in_stock=9)
    with farm.scope():
        part.equivalents.add(other)
    page = said(farm.client("technician").get(reverse("parts")))
    assert "2 parts, none of them short" in page
    with farm.scope():
        workorders.plan(member=farm.manager, machine=asked.machine, duties=[asked])
    page = said(farm.client("technician").get(reverse("parts")))
    assert "2 parts; 1 short" in page
    assert "3 reserved, <b>2 short</b>" in page
    assert "2 pc of" in page
    assert "12.50" not in page, "costs are for those who see the ledger"
    assert "12.50" in said(farm.client("manager").get(reverse("parts")))


def test_a_stock_below_nought_is_said(farm, part):
    with farm.scope():
        Stock.objects.update(quantity=D(-2))
    assert "Below zero: more was used than was counted" in said(farm.client("manager").get(reverse("parts")))
    assert "Below zero" in said(farm.client("manager").get(reverse("part", args=[part.pk])))


def test_looking_for_a_part(farm, part):
    PartFactory(organisation=farm.organisation, name="Coolant", number="HX-7")
    page = said(farm.client("manager").get(reverse("parts"), {"q": "1101"}))
    assert "Oil filter" in page
    assert "Coolant" not in page


def test_adding_changing_and_counting(farm, part):
    client = farm.client("manager")
    facts = {"number": "HX-9", "name": "Belt", "grade": "", "unit": "pc", "unit_cost": "7,50"}
    answer = client.post(reverse("part-new"), {**facts, "equivalents": [part.pk]})
    with farm.scope():
        made = Part.objects.get(number="HX-9")
        assert (made.unit_cost, list(made.equivalents.all())) == (D("7.50"), [part])
    assert answer["Location"] == reverse("part", args=[made.pk])
    again = said(client.post(reverse("part-new"), facts), 422)
    assert "There is already a part HX-9" in again
    client.post(reverse("part", args=[made.pk]), {**facts, "name": "Fan belt", "unit_cost": "8"})
    count = {"yard": farm.yard.pk, "quantity": "6", "reorder_point": "2"}
    client.post(reverse("part-count", args=[made.pk]), count)
    page = said(client.get(reverse("part", args=[made.pk])))
    assert "Fan belt" in page
    assert "6 pc" in page
    wrong = said(client.post(reverse("part-count", args=[made.pk]), {**count, "quantity": "six"}), 422)
    assert "Give a number" in wrong
    assert 'value="six"' in wrong


def test_a_price_nobody_entered_is_said_and_never_nought(farm, part):
    client = farm.client("manager")
    assert 'value="0"' not in said(client.get(reverse("part-new"))).split("unit_cost")[1].split(">")[0]
    facts = {"number": "HX-9", "name": "Belt", "grade": "", "unit": "pc", "unit_cost": ""}
    assert client.post(reverse("part-new"), facts).status_code == 302
    assert "not entered" in said(client.get(reverse("parts")))
    with farm.scope():
        made = Part.objects.get(number="HX-9")
    page = said(client.get(reverse("part", args=[made.pk])))
    assert "not entered" in page
    assert "0.00" not in page


def test_another_organisations_yard_or_part_is_refused(farm, stranger, part):
    client = farm.client("manager")
    count = {"yard": stranger.yard.pk, "quantity": "6", "reorder_point": "2"}
    assert client.post(reverse("part-count", args=[part.pk]), count).status_code == 422
    theirs = PartFactory(organisation=stranger.organisation, number="THEIRS-9")
    assert client.get(reverse("part", args=[theirs.pk])).status_code == 404
    facts = {"number": "N", "name": "N", "unit": "pc", "unit_cost": "1", "equivalents": [theirs.pk]}
    assert client.post(reverse("part-new"), facts).status_code == 422
    assert "THEIRS-9" not in said(client.get(reverse("parts")))


def test_technicians_look_and_change_nothing(farm, part):
    client = farm.client("technician")
    page = said(client.get(reverse("part", args=[part.pk])))
    assert "Count it again" not in page
    assert client.post(reverse("part", args=[part.pk]), {"number": "N"}).status_code == 403
    assert client.post(reverse("part-count", args=[part.pk]), {}).status_code == 403
    assert client.get(reverse("part-new")).status_code == 403
    for name in ("parts", "part-purchase"):
        assert farm.client("counter").get(reverse(name)).status_code == 403


def test_what_to_buy_on_the_page_and_as_a_file(farm, part, asked):
    with farm.scope():
        Part.objects.update(name="=Oil filter")
    page = said(farm.client("manager").get(reverse("part-purchase"), {"days": "60"}))
    assert "What to buy for 60 days" in page
    assert "<b>2 pc</b>" in page
    assert "25.00" in page
    answer = farm.client("technician").get(reverse("part-purchase"), {"days": "30", "format": "csv"})
    assert answer["Content-Type"].startswith("text/csv")
    head, row = list(csv.reader(said(answer).splitlines()))
    assert dict(zip(head, row, strict=True)) == {
        "number": "HX-1101",
        "name": "'=Oil filter",
        "grade": "",
        "unit": "pc",
        "average use": "3.00",
        "use, 90 % service level": "3.00",
        "in stock": "1.00",
        "reserved": "0",
        "substitutes": "",
        "average shortage": "2.00",
        "order quantity, 90 % service level": "2",
    }


def test_the_average_is_never_said_to_reach_up_to_less(farm, part, asked):
    """9.5 for sure, and 8 with a chance of 1 in 20: 9.9 on average, and 9.5 enough in nine cases of ten."""
    with farm.scope():
        asked.task.supplies.update(quantity=D("9.5"))
        day = asked.machine.today()
        seldom = DutyFactory(
            machine=asked.machine,
            mark_hours=D(9000),
            early=day + timedelta(40),
            likely=day + timedelta(60),
            late=day + timedelta(90),
        )  # fmt: skip: from nothing at 20 days to 10 % at 40, so 5 % at 30
        seldom.task.supplies.create(organisation=farm.organisation, part=part, quantity=D(8))
    page = said(farm.client("manager").get(reverse("part-purchase")))
    assert "9.9 up to" not in page
    assert '9.9<br><span class="quiet">90 %: 9.5</span>' in page
    assert "<b>9 pc</b>" in page  # 9.5 less the one in stock, in whole pieces


def test_a_part_seldom_asked_for_is_not_bought_by_the_piece_on_average(farm, part, asked):
    """One piece with a chance of 3 in 10 and none in stock: 0.3 are short on average, not 1."""
    with farm.scope():
        Stock.objects.update(quantity=D(0))
        asked.task.supplies.update(quantity=D(1))
    day = asked.machine.today()
    with farm.scope():
        Duty.objects.update(
            early=day + timedelta(20), likely=day + timedelta(40), late=day + timedelta(80)
        )  # half way from 10 % to 50 %
    answer = farm.client("manager").get(reverse("part-purchase"), {"days": "30", "format": "csv"})
    (row,) = csv.DictReader(said(answer).splitlines())
    assert (row["average use"], row["average shortage"], row["order quantity, 90 % service level"]) == (
        "0.30",
        "0.30",
        "1",
    )


def test_the_cost_says_which_parts_have_no_price(farm, part, asked):
    with farm.scope():
        Part.objects.update(unit_cost=D(0))
    page = said(farm.client("manager").get(reverse("part-purchase")))
    assert "Not in the cost: 1 part without a price." in page
    assert "not entered</td>" in page


def test_an_unknown_span_is_thirty_days(farm, part, asked):
    assert "for 30 days" in said(farm.client("manager").get(reverse("part-purchase"), {"days": "31"}))


@pytest.mark.parametrize("name", ["parts", "part-purchase"])
def test_a_constant_number_of_queries(farm, part, asked, name):
    def queries():
        with CaptureQueriesContext(connection) as made:
            said(farm.client("manager").get(reverse(name)))
        return len(made)

    def fill(count):
        for _ in range(count):
            more = PartFactory(organisation=farm.organisation, in_stock=0)
            with farm.scope():
                more.equivalents.add(part)
                asked.task.supplies.create(organisation=farm.organisation, part=more, quantity=1)

    fill(2)
    few = queries()
    fill(15)
    assert queries() == few
