"""PDFs read back with poppler's tools, as a printer would see them, and an order to print."""

import shutil
import subprocess
from datetime import UTC, datetime
from decimal import Decimal

import pytest

from servicing import workorders
from tests.factories import CheckFactory, DutyFactory, FaultFactory, TaskFactory

NOW = datetime(2026, 5, 4, 22, 30, tzinfo=UTC)
"""When the sheet of `order` is printed."""


def tool(name):
    """Return a tool of poppler-utils; the test is skipped where there is none."""
    found = shutil.which(name)
    if found is None:
        pytest.skip(f"{name} (poppler-utils) is not installed")
    return found


@pytest.fixture
def read(tmp_path):
    def read(pdf: bytes, *more: str) -> str:
        file = tmp_path / "sheet.pdf"
        file.write_bytes(pdf)
        done = subprocess.run([tool("pdftotext"), *more, str(file), "-"], capture_output=True, check=True)
        return " ".join(done.stdout.decode().split())

    return read


@pytest.fixture
def about(tmp_path):
    def about(pdf: bytes) -> dict[str, str]:
        file = tmp_path / "sheet.pdf"
        file.write_bytes(pdf)
        done = subprocess.run([tool("pdfinfo"), str(file)], capture_output=True, check=True, text=True)
        return {
            key: value.strip() for key, _, value in (line.partition(":") for line in done.stdout.splitlines())
        }

    return about


@pytest.fixture
def order(in_farm):
    """Engine oil (drains) with a torque check, a look and a safety test; a fault."""
    machine = in_farm.machine(tag="T-07", hours=Decimal("1204.5"), hours_at=NOW)
    oil = TaskFactory(
        version=DutyFactory(machine=machine, active=False).task.version,
        title="Engine oil",
        engine="warm",
        place="engine-right",
        opens=["bonnet"],
        minutes=30,
        wait_minutes=15,
        prepare=["Key out."],
        steps=["Put the pan under.", "Take the plug out."],
        manual_page="4-2",
        outside_text="Change the washer.",
    )
    oil.version.program.round = ["front", "engine-right"]
    oil.version.program.save()
    oil.cautions.create(organisation=in_farm.organisation, hazard="hot", text="Hot oil burns.", before_step=2)
    oil.tools.create(organisation=in_farm.organisation, tool="wrench", size="17 mm")
    grease = TaskFactory(version=oil.version, title="Grease the axle", place="front", minutes=10)
    CheckFactory(
        task=oil,
        code="plug",
        kind="torque",
        label="Drain plug",
        unit="N·m",
        lower=Decimal(35),
        upper=Decimal(45),
    )
    CheckFactory(
        task=grease,
        code="pins",
        kind="sight",
        label="Pins",
        unit="",
        lower=None,
        upper=None,
        choices=[
            {"value": "tight", "meaning": "no play", "passes": True},
            {"value": "loose", "meaning": "", "passes": False},
        ],
    )
    CheckFactory(
        task=grease,
        code="stop",
        kind="function",
        label="Stop lever",
        safety=True,
        unit="",
        lower=None,
        upper=None,
    )
    return workorders.plan(
        member=in_farm.manager,
        machine=machine,
        duties=[DutyFactory(machine=machine, task=task) for task in (oil, grease)],
        faults=[FaultFactory(machine=machine, text="Horn is silent")],
        note="Mind the new paint.",
    )
