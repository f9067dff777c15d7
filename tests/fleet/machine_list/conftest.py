"""A list of machines, read and judged for the farm."""

from dataclasses import replace
from datetime import UTC, datetime

import pytest

from fleet.machine_list import columns, grid
from fleet.machine_list.answers import Answers, ModelAnswer
from fleet.machine_list.judging import judge
from fleet.machine_list.known import Known

NOW = datetime(2026, 3, 2, 10, tzinfo=UTC)


class Lists:
    """Reads lists for one house."""

    def __init__(self, house):
        self.organisation = house.organisation

    @property
    def known(self):
        return Known.of(self.organisation)

    def tell(self, text):
        return columns.tell(grid.from_text(text), self.known)

    def table(self, text):
        found = grid.from_text(text)
        return columns.listing(found, columns.tell(found, self.known))

    def judge(self, text, answers=None, *, now=NOW):
        return judge(self.table(text), answers or Answers(), self.known, now=now)

    def settle(self, text, *, category="tractor", **said):
        """The answers that a list needs about its models: what is offered, and one category for the rest."""
        answers = Answers(**said)
        asked = self.judge(text, answers).questions.models
        models = {each.key: ModelAnswer(each.maker, each.model, each.category or category) for each in asked}
        return replace(answers, models=models)


@pytest.fixture
def lists(farm, in_farm):
    """The farm's, with its yard called Home yard."""
    in_farm.yard.name = "Home yard"
    in_farm.yard.save()
    return Lists(farm)
