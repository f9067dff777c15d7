"""The gate's pages, as the counter sees them, and what they send."""

from datetime import timedelta
from decimal import Decimal
from io import BytesIO

from django.core.files.uploadedfile import SimpleUploadedFile
from PIL import Image

from fleet.models import Hire, TagOut
from tests.servicing.gate import hire_units
from tests.servicing.gate.hire_units import NOW, duty_of


def unit(house, tag="T-07", **values):
    """A rental unit whose meter was read at 100 h two days ago."""
    return hire_units.unit(house, tag=tag, **values)


def duty(machine, mark, **values):
    """Work of a unit at its mark."""
    return duty_of(machine, mark_hours=Decimal(mark), **values)


def hire(machine, **values):
    asked = {"hirer": "Gala Ros", "out_at": NOW - timedelta(days=4), "hours_out": 90, **values}
    Hire(organisation=machine.organisation, machine=machine, **asked).save()


def tag_out(machine, member, reason="Brakes failed"):
    made = TagOut(organisation=machine.organisation, machine=machine, reason=reason, placed_by=member)
    made.save()
    return made


def page(house, role="counter", path="/gate/", **data):
    answer = house.client(role).get(path, data)
    assert answer.status_code == 200
    return answer.content.decode().replace("\xa0", " ")


def section(html, heading):
    assert f">{heading}</h2>" in html
    return html.split(f">{heading}</h2>")[1].split("</section>")[0]


def faults(*rows):
    data = {"faults-TOTAL_FORMS": 3, "faults-INITIAL_FORMS": 0}
    for n in range(3):
        data[f"faults-{n}-severity"] = "soon"
    for n, row in enumerate(rows):
        data |= {f"faults-{n}-{name}": value for name, value in row.items()}
    return data


def picture():
    file = BytesIO()
    Image.new("RGB", (40, 30), "brown").save(file, "JPEG")
    return SimpleUploadedFile("hose.jpg", file.getvalue())
