"""What is wrong with a list is said beside its cell; what could be read in two ways is asked once."""

from dataclasses import replace
from datetime import date
from decimal import Decimal

import pytest

from fleet.machine_list.answers import ADD, Answers, ModelAnswer, key
from tests.factories import MachineTypeFactory, YardFactory

HEAD = (
    "Fleet no;Make;Model;Category;Serial;PIN;Hours;Hours read on;Hours when bought;In service;Price;Yard;"
    "For hire"
)
GOOD = {
    "tag": "T-01",
    "maker": "Arden",
    "model": "40C",
    "category": "tractor",
    "serial": "AR-1",
    "pin": "",
    "hours": "1204.5",
    "hours_day": "",
    "hours_before": "",
    "since": "2019-05-13",
    "price": "",
    "yard": "Home yard",
    "for_hire": "",
}


def text(*rows):
    """A list of machines that are right but for what is given."""
    return "\n".join([HEAD, *(";".join((GOOD | row).values()) for row in rows)])


def good(number):
    """Another machine that is right."""
    return {"tag": f"T-{number:02d}", "serial": f"AR-{number}"}


def problems(judged):
    return {(number, column) for number, cells in judged.problems.items() for column in cells}


def test_a_list_that_is_right_asks_for_its_new_model_alone(lists):
    judged = lists.judge(text({}, good(2)))
    assert not judged.problems
    assert judged.open == ["models"]
    (asked,) = judged.questions.models
    assert (asked.maker, asked.model, asked.category, asked.rows) == ("Arden", "40C", "tractor", [1, 2])
    assert not judged.ready
    assert lists.judge(text({}, good(2)), lists.settle(text({}, good(2)))).ready


@pytest.mark.parametrize(
    ("row", "column", "said"),
    [
        ({"tag": ""}, "tag", "Give the fleet number"),
        ({"tag": "T" * 31}, "tag", "30 characters"),
        ({"maker": ""}, "maker", "Give the maker's name."),
        ({"model": ""}, "model", "Give the model."),
        ({"model": "x" * 81}, "model", "80 characters"),
        ({"serial": "9" * 61}, "serial", "60 characters"),
        ({"pin": "ABC123"}, "pin", "17 letters and figures"),
        ({"hours": "many"}, "hours", "“many” is not a number of hours."),
        ({"hours": "-3"}, "hours", "0 h or more"),
        ({"hours": "about 1200"}, "hours", "isn't certain"),
        ({"hours": "12345678.9"}, "hours", "more than any meter shows"),
        ({"hours": "1.2345"}, "hours", "two figures after the point"),
        ({"hours_before": "1300"}, "hours", "fewer hours than when it came"),
        ({"hours": "9000", "hours_before": "1", "since": "2026-02-28"}, "hours", "can't have run"),
        ({"hours_day": "2026-03-03"}, "hours_day", "in the future"),
        ({"hours_day": "2019-05-12"}, "hours_day", "before it came"),
        ({"hours_day": "soon"}, "hours_day", "is not a date"),
        ({"since": "2026-03-03"}, "since", "in the future"),
        ({"since": "recently"}, "since", "is not a date"),
        ({"since": "31.02.2019"}, "since", "is not a date"),
        ({"since": "13.5."}, "since", "names no year"),
        ({"since": "1890-05-13"}, "since", "too long ago"),
        ({"price": "a fortune"}, "price", "is not a price"),
        ({"price": "£ 18500"}, "price", "isn't in EUR"),
        ({"price": "CHF 18500"}, "price", "isn't in EUR"),
        ({"price": "-5"}, "price", "0 or more"),
        ({"for_hire": "perhaps"}, "for_hire", "neither yes nor no"),
        ({"yard": "Y" * 121}, "yard", "120 characters"),
    ],
)
def test_what_is_wrong_is_said_beside_its_cell(lists, row, column, said):
    written = text(good(9), row)
    judged = lists.judge(written, lists.settle(written))
    assert problems(judged) == {(2, column)}
    assert said in judged.problems[2][column]
    assert not judged.ready


def test_everything_that_is_wrong_is_said_at_once(lists):
    wrong = {"tag": "", "hours": "x", "since": "y", "pin": "1", "price": "£1"}
    judged = lists.judge(text(wrong, {"tag": "T-02", "for_hire": "?"}))
    assert problems(judged) == {
        *((1, column) for column in ("tag", "hours", "since", "pin", "price")),
        (2, "for_hire"),
        (2, "serial"),
    }


@pytest.mark.parametrize("other", ["T-01", "t-01", "T01", "t 01", "T_01"])
def test_a_fleet_number_stands_once_in_the_list(lists, other):
    judged = lists.judge(text({}, {"tag": other, "serial": "AR-2"}))
    assert judged.problems == {2: {"tag": "Row 1 has this fleet number, too."}}


def test_so_do_a_serial_number_and_a_pin(lists):
    pin = "ARD40C00000000001"
    judged = lists.judge(text({"pin": pin}, {"tag": "T-02", "serial": "ar 1", "pin": pin.lower()}))
    assert problems(judged) == {(2, "serial"), (2, "pin")}


@pytest.mark.parametrize("tag", ["T-01", "t01", "T 01"])
def test_a_machine_that_is_here_is_named_and_can_be_left_out(farm, lists, tag):
    farm.machine(tag="T-01", serial="AR-1")
    written = text({"tag": tag}, good(2))
    judged = lists.judge(written)
    assert judged.problems == {1: {"tag": "T-01 is here already."}}
    assert judged.here == {1: "T-01"}
    left = lists.judge(written, lists.settle(written, leave_known=True))
    assert [entry.tag for entry in left.entries] == ["T-02"]
    assert left.ready


def test_another_machines_serial_number_and_pin_are_refused(farm, lists):
    farm.machine(tag="K-9", serial="AR-1", pin="ARD40C00000000001")
    judged = lists.judge(text({"pin": "ard40c 0000 0000 001"}))
    assert problems(judged) == {(1, "serial"), (1, "pin")}
    assert "K-9" in judged.problems[1]["serial"]


def test_a_retired_machine_is_here_as_well(farm, lists):
    farm.machine(tag="T-01", retired_on=date(2026, 2, 1))
    assert lists.judge(text({"serial": ""})).here == {1: "T-01"}


def test_another_organisations_machine_is_none_of_ours(stranger, lists):
    stranger.machine(tag="T-01", serial="AR-1")
    assert not lists.judge(text({})).problems


class TestDays:
    def test_the_order_of_day_and_month_is_asked_once_for_the_list(self, lists):
        written = text({"since": "03/04/2019"}, good(2) | {"since": "05/06/2020"})
        judged = lists.judge(written)
        assert judged.questions.order == "03/04/2019"
        assert "order" in judged.open
        for order, month in (("dmy", 4), ("mdy", 3)):
            settled = lists.judge(written, lists.settle(written, order=order))
            assert settled.entries[0].since.month == month
            assert settled.ready

    def test_one_day_that_can_be_read_one_way_alone_answers_for_all(self, lists):
        judged = lists.judge(text({"since": "03/04/2019"}, good(2) | {"since": "04/13/2020"}))
        assert "order" not in judged.open
        assert judged.entries[0].since == date(2019, 3, 4)

    def test_the_organisations_own_order_answers(self, farm, lists):
        farm.organisation.date_order = "mdy"
        assert lists.judge(text({"since": "03/04/2019"})).entries[0].since == date(2019, 3, 4)

    def test_days_that_contradict_each_other_are_asked_about(self, lists):
        rows = ({"since": "31/01/2019"}, good(2) | {"since": "01/31/2019"}, good(3) | {"since": "02/03/2019"})
        assert "order" in lists.judge(text(*rows)).open
        judged = lists.judge(text(*rows), lists.settle(text(*rows), order="dmy"))
        assert [entry.since for entry in judged.entries] == [
            date(2019, 1, 31),
            date(2019, 1, 31),
            date(2019, 3, 2),
        ]

    def test_an_open_order_calls_no_day_the_future(self, lists):
        judged = lists.judge(text({"since": "01/12/2025", "hours_day": "02/03/2026"}))
        assert "order" in judged.open
        assert not judged.problems

    def test_a_year_or_a_month_is_its_first_day_and_said_so(self, lists):
        judged = lists.judge(text({"since": "2019"}, good(2) | {"since": "May 2020"}))
        assert [entry.since for entry in judged.entries] == [date(2019, 1, 1), date(2020, 5, 1)]
        assert judged.remarks == {
            1: {"since": "Read as 1 January 2019."},
            2: {"since": "Read as 1 May 2020."},
        }

    def test_no_day_is_never_filled_in_silently(self, lists):
        written = text({"since": ""}, good(2))
        judged = lists.judge(written, lists.settle(written))
        assert judged.open == ["since"]
        assert judged.questions.since == [1]
        settled = lists.judge(written, lists.settle(written, since_unknown=True))
        assert [entry.since for entry in settled.entries] == [date(2026, 3, 2), date(2019, 5, 13)]
        assert settled.ready

    def test_hours_when_it_came_need_the_day_it_came(self, lists):
        written = text({"since": "", "hours_before": "100"})
        judged = lists.judge(written, lists.settle(written, since_unknown=True))
        assert problems(judged) == {(1, "hours_before")}


class TestFigures:
    @pytest.mark.parametrize(
        ("typed", "hours"),
        [
            ("3.240,5", "3240.5"),
            ("3,240.5", "3240.5"),
            ("3 240 h", "3240"),
            ("3\u202f240,5 h", "3240.5"),
            ("3'240.5", "3240.5"),
            ("1216:30", "1216.5"),
            ("871", "871"),
        ],
    )
    def test_hours_are_read_as_they_can_only_be_meant(self, lists, typed, hours):
        judged = lists.judge(text({"hours": typed}))
        assert not judged.problems
        assert judged.entries[0].hours == Decimal(hours)

    def test_a_mark_that_may_part_thousands_is_asked_about_once(self, lists):
        written = text({"hours": "3.240"}, good(2) | {"hours": "871"})
        judged = lists.judge(written)
        assert judged.questions.decimal == "3.240"
        assert not judged.problems
        for decimal, hours in (("comma", "3240"), ("point", "3.24")):
            settled = lists.judge(written, lists.settle(written, decimal=decimal))
            assert settled.entries[0].hours == Decimal(hours)
            assert settled.ready

    def test_another_figure_of_the_list_answers(self, lists):
        judged = lists.judge(text({"hours": "3.240"}, good(2) | {"hours": "871,5"}))
        assert "decimal" not in judged.open
        assert judged.entries[0].hours == 3240

    def test_three_figures_after_the_lists_own_mark_are_doubted(self, lists):
        judged = lists.judge(text({"hours": "3.240"}, good(2) | {"hours": "871.5"}))
        assert "in two ways" in judged.problems[1]["hours"]

    @pytest.mark.parametrize(
        ("typed", "price"),
        [
            ("€ 18.500,00", "18500"),
            ("18.500,- €", "18500"),
            ("18500 EUR", "18500"),
            ("EUR 18,500.50", "18500.5"),
            ("18 500,50", "18500.5"),
        ],
    )
    def test_prices_come_with_their_currency(self, lists, typed, price):
        judged = lists.judge(text({"price": typed}))
        assert not judged.problems
        assert judged.entries[0].price == Decimal(price)

    def test_a_heading_in_another_currency_is_asked_about(self, lists):
        written = text({"price": "18500"}).replace(";Price;", ";Price (CHF);")
        judged = lists.judge(written, lists.settle(written))
        assert judged.questions.currency == "Price (CHF)"
        assert judged.open == ["currency"]
        settled = lists.judge(written, lists.settle(written, in_currency=True))
        assert settled.entries[0].price == 18500


class TestYards:
    def test_an_unknown_yard_is_ours_or_added(self, farm, lists):
        written = text({"yard": "North field"}, good(2) | {"yard": "north-field"})
        judged = lists.judge(written, lists.settle(written))
        assert judged.open == ["yards"]
        (asked,) = judged.questions.yards
        assert (asked.name, asked.rows) == ("North field", [1, 2])
        added = lists.judge(written, lists.settle(written, yards={asked.key: ADD}))
        assert added.ready
        assert added.entries[0].yard is added.entries[1].yard
        ours = lists.judge(written, lists.settle(written, yards={asked.key: str(farm.yard.pk)}))
        assert [entry.yard for entry in ours.entries] == [farm.yard] * 2

    @pytest.mark.parametrize("said", ["999999", "99999999999999999999999", "x", "-1"])
    def test_no_answer_is_one_that_names_no_yard_of_ours(self, lists, said):
        written = text({"yard": "North field"})
        judged = lists.judge(written, lists.settle(written, yards={key("North field"): said}))
        assert judged.open == ["yards"]

    def test_another_organisations_yard_is_none(self, stranger, lists):
        written = text({"yard": "North field"})
        said = {key("North field"): str(stranger.yard.pk)}
        assert lists.judge(written, lists.settle(written, yards=said)).open == ["yards"]

    def test_without_a_yard_it_is_at_the_only_one(self, farm, lists):
        assert lists.judge(text({"yard": ""})).entries[0].yard == farm.yard

    def test_of_several_it_is_asked(self, farm, lists):
        other = YardFactory(organisation=farm.organisation, name="Quarry")
        written = text({"yard": ""}, good(2))
        assert lists.judge(written, lists.settle(written)).open == ["unnamed"]
        settled = lists.judge(written, lists.settle(written, unnamed_yard=str(other.pk)))
        assert [entry.yard for entry in settled.entries] == [other, farm.yard]
        named = lists.judge(written, lists.settle(written, new_yard="Hill"))
        assert named.entries[0].yard.name == "Hill"


class TestModels:
    def one(self, *names):
        rows = "\n".join(f"T-{at};{name};;2019-05-13" for at, name in enumerate(names, start=1))
        return f"Fleet no;Make and model;Category;In service\n{rows}"

    @pytest.mark.parametrize("name", ["Arden 40C", "arden 40 c", "ARDEN-40C", "Arden  40C"])
    def test_one_of_ours_is_found_however_it_is_written(self, farm, lists, name):
        ours = MachineTypeFactory(organisation=farm.organisation, maker="Arden", model="40C")
        judged = lists.judge(self.one(name))
        assert judged.entries[0].type == ours
        assert judged.ready

    def test_the_part_that_is_the_maker_is_shown_for_correction(self, lists):
        written = self.one("Van Arden 40C", "van arden 40c")
        (asked,) = lists.judge(written).questions.models
        assert (asked.maker, asked.model, asked.category) == ("Van", "Arden 40C", "")
        said = {asked.key: ModelAnswer("Van Arden", "40C", "tractor")}
        judged = lists.judge(written, Answers(models=said))
        assert judged.ready
        assert {(entry.type.maker, entry.type.model) for entry in judged.entries} == {("Van Arden", "40C")}

    def test_a_maker_we_know_is_told_from_its_models(self, farm, lists):
        MachineTypeFactory(organisation=farm.organisation, maker="Van Arden", model="30")
        (asked,) = lists.judge(self.one("Van Arden 40C")).questions.models
        assert (asked.maker, asked.model) == ("Van Arden", "40C")

    def test_a_single_word_needs_its_maker(self, lists):
        (asked,) = lists.judge(self.one("40C")).questions.models
        assert asked.problem == "Say which part is the maker."
        judged = lists.judge(self.one("40C"), Answers(models={asked.key: ModelAnswer("", "40C", "tractor")}))
        assert not judged.ready

    def test_a_category_in_its_name_is_offered_and_left_out_of_the_maker(self, lists):
        (asked,) = lists.judge(self.one("Minibagger Brock ME 18")).questions.models
        assert (asked.maker, asked.model, asked.category) == ("Brock", "ME 18", "mini-excavator")
        assert not asked.settled

    def test_a_word_that_names_no_category_is_shown_and_none_is_offered(self, lists):
        (asked,) = lists.judge(text({"category": "Bagger"})).questions.models
        assert (asked.category, asked.said) == ("", "Bagger")

    def test_two_categories_of_one_model_leave_the_choice(self, lists):
        written = text({"category": "tractor"}, good(2) | {"category": "telehandler"})
        (asked,) = lists.judge(written).questions.models
        assert asked.category == ""

    def test_what_was_answered_to_be_one_model_is_one(self, lists):
        written = self.one("Arden 40C", "Arden Forty")
        first, second = lists.judge(written).questions.models
        said = {
            first.key: ModelAnswer("Arden", "40C", "tractor"),
            second.key: ModelAnswer("arden", "40 c", "tractor"),
        }
        judged = lists.judge(written, Answers(models=said))
        assert judged.ready
        assert judged.entries[0].type is judged.entries[1].type
        other = said | {second.key: ModelAnswer("Arden", "40C", "generator")}
        again = lists.judge(written, replace(Answers(), models=other))
        assert again.open == ["models"]

    def test_a_category_that_is_none_is_no_answer(self, lists):
        (asked,) = lists.judge(self.one("Arden 40C")).questions.models
        judged = lists.judge(
            self.one("Arden 40C"), Answers(models={asked.key: ModelAnswer("Arden", "40C", "spaceship")})
        )
        assert judged.open == ["models"]
