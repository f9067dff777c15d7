import numpy as np
import pytest

from fleet.usage import backtest
from tests.fleet.usage.fleets import excerpt, steady


@pytest.fixture(scope="module")
def book():
    types, readings, _ = excerpt()
    machine, day, hours = readings.T
    return backtest.log_book(machine=machine.astype(int), day=day, hours=hours, types=types)


def test_scores_against_scikit_learn(book):
    """sklearn.metrics.mean_pinball_loss and mean_absolute_error on the same cases."""
    metrics = pytest.importorskip("sklearn.metrics")
    cases = backtest.choose(book)
    cases = cases.pick(~np.isnan(cases.days))
    forecast, _ = backtest.ours(book, cases)
    found = backtest.score("ours", cases, forecast)
    losses = [
        metrics.mean_pinball_loss(cases.days, forecast[:, i], alpha=p) for i, p in enumerate((0.1, 0.5, 0.9))
    ]
    assert found.pinball == pytest.approx(np.mean(losses))
    assert found.mae == pytest.approx(metrics.mean_absolute_error(cases.days, forecast[:, 1]))
    inside = (cases.days >= forecast[:, 0]) & (cases.days <= forecast[:, 2])
    assert found.coverage == pytest.approx(metrics.accuracy_score(np.ones(len(inside)), inside))


def test_the_cases_are_those_published_with_the_data(book):
    """Marks every 100 h, 80 and 40 h ahead: the machine, day and hours to go of truth.csv are found again."""
    _, _, cases = excerpt()
    chosen = backtest.choose(book, days_after=120.0)
    found = {(m, o, round(r, 1)): d for m, o, r, d in zip(*chosen[:4], strict=True)}
    given = {(m, o, round(r, 1)): d for m, o, r, d in cases if (m, o, round(r, 1)) in found}
    assert len(given) > 0.9 * len(cases)
    differ = [abs(found[key] - days) for key, days in given.items() if not np.isnan(days)]
    assert np.median(differ) <= 3  # the truth knows the day, the readings only its neighbours


def test_we_beat_what_people_do_by_hand(book):
    cases = backtest.choose(book)
    ours = backtest.score("ours", cases, backtest.ours(book, cases)[0])
    rules = backtest.all_rules(book, cases)
    assert set(rules) == {"lifetime rate", "last 30 days", "last 90 days", "since last service"}
    for name, forecast in rules.items():
        rule = backtest.score(name, cases, forecast)
        assert ours.pinball < rule.pinball
        assert ours.mae < rule.mae
    assert 0.7 < ours.coverage < 0.9


def test_what_is_said_comes_about_as_often_as_it_is_said(book):
    """34 machines of one summer lie close together, so within 0.13; the whole set lies within 0.03."""
    _, given = backtest.ours(book, backtest.choose(book, every=25.0))
    said, came = backtest.reliability(given)
    assert np.abs(said - came).max() < 0.13


def test_no_forecast_sees_beyond_its_day(book):
    cases = backtest.choose(book).pick(slice(0, 40))
    cases = cases.pick(cases.origin == cases.origin[0])
    seen = book.day <= cases.origin[0]
    early = book._replace(machine=book.machine[seen], day=book.day[seen], hours=book.hours[seen])
    assert backtest.ours(book, cases)[0] == pytest.approx(backtest.ours(early, cases)[0])
    assert backtest.by_hand(book, cases, cases.origin - 30) == pytest.approx(
        backtest.by_hand(early, cases, cases.origin - 30)
    )


def test_rules_by_hand_on_a_steady_machine():
    """2 h a day: every rule says half as many days as there are hours to go."""
    book = backtest.log_book(**steady([2.0], days=300), types=["tractor"])
    cases = backtest.choose(book)
    for start in (-np.inf, cases.origin - 30, cases.origin - 90, cases.last_mark):
        assert backtest.by_hand(book, cases, start) == pytest.approx(cases.remaining / 2)
    assert cases.days == pytest.approx(np.ceil(cases.remaining / 2), abs=1)


def test_the_second_mark_that_a_machine_passes_is_the_first_asked_about():
    """Its first reading shows 90 h, so 100 h is passed unasked, and 200 h is not."""
    rows = {"machine": [0] * 6, "day": [0, 10, 25, 50, 75, 100], "hours": [90, 110, 125, 165, 198, 300]}
    cases = backtest.choose(backtest.log_book(**rows, types=["tractor"]), days_after=0.0)
    assert cases.remaining.tolist() == [200 - 125, 200 - 165]
    assert cases.origin.tolist() == [25, 50]
    assert cases.days[:2] == pytest.approx([76 - 25, 76 - 50])


def test_a_mark_that_the_last_reading_shows_is_reached_with_it():
    rows = {"machine": [0] * 5, "day": [0, 10, 25, 50, 100], "hours": [90, 110, 125, 165, 200]}
    cases = backtest.choose(backtest.log_book(**rows, types=["tractor"]), days_after=0.0)
    assert (cases.origin + cases.days).tolist() == [100, 100]


def test_what_comes_on_the_early_or_the_late_day_is_inside():
    one = (np.array([each] * 4) for each in (0.0, 10.0))
    cases = backtest.Cases(
        np.zeros(4, int), *one, np.array([5.0, 9.0, 4.9, 9.1]), np.zeros(4), np.full(4, 90.0)
    )
    assert backtest.score("ours", cases, np.array([[5.0, 7.0, 9.0]] * 4)).coverage == 0.5


def test_by_hand_each_machine_is_read_from_its_own_log():
    """Both are read on the first and on the last day, one at 2 h a day, the other at 5."""
    book = backtest.log_book(**steady([2.0, 5.0], days=100, every=50.0), types=["a", "b"])
    facts = (100.0, 60.0, 9.0, np.nan, 90.0)
    cases = backtest.Cases(np.array([0, 1]), *(np.array([each] * 2) for each in facts))
    assert backtest.by_hand(book, cases, -np.inf) == pytest.approx([30, 12])
    assert backtest.by_hand(book, cases, 0.0) == pytest.approx([30, 12])


def test_what_was_given_just_that_chance_has_come_by_then():
    levels, share = backtest.reliability(np.array([0.25, 0.5, 0.75, np.nan]), np.array([0.25, 0.5, 0.9]))
    assert (levels.tolist(), share.tolist()) == ([0.25, 0.5, 0.9], pytest.approx([1 / 3, 2 / 3, 1.0]))


def test_tables_by_type_and_by_hours_left_hold_every_case(book):
    cases = backtest.choose(book)
    forecast, _ = backtest.ours(book, cases)
    for table in (backtest.by_type(book, cases, forecast), backtest.by_hours_left(cases, forecast)):
        assert sum(row.cases for row in table) == len(forecast)


def test_a_log_book_too_short_gives_no_cases():
    book = backtest.log_book(machine=[0, 0], day=[0, 5], hours=[0, 9], types=["tractor"])
    cases = backtest.choose(book)
    assert len(cases.machine) == 0
    forecast, given = backtest.ours(book, cases)
    assert backtest.score("ours", cases, forecast).cases == 0
    assert np.isnan(backtest.reliability(given)[1]).all()
    assert backtest.all_rules(book, cases)["lifetime rate"].shape == (0, 3)
    with pytest.raises(ValueError, match="apart"):
        backtest.choose(book, every=0)
