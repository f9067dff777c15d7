"""A client that an off-the-shelf generator makes of the served document does the main job.

The generator is openapi-python-client (MIT licence), as it comes; the worker and the database are real.
"""

import json
import os
import subprocess
import sys
from pathlib import Path
from urllib.request import urlopen

import pytest

pytestmark = pytest.mark.service

PROGRAM = Path(__file__).with_name("stranger_program.py")
SEED = """
from datetime import timedelta
from decimal import Decimal
from django.utils import timezone
from django_scopes import scope
from fleet.models import *
from servicing.models import *
farm = Organisation.objects.create(name="Alder Farm", slug="alder-farm")
with scope(organisation=farm):
    user = User.objects.create_user("mara", "mara@example.org", first_name="Mara")
    mara = Member.objects.create(organisation=farm, user=user, role="manager")
    Technician.objects.create(organisation=farm, member=mara)
    Yard.objects.create(organisation=farm, name="Home")
    kind = MachineType.objects.create(organisation=farm, maker="Haldane", model="HX 25", category="tractor")
    program = ServiceProgram.objects.create(organisation=farm, machine_type=kind, code="p", title="P")
    version = ProgramVersion.objects.create(
        organisation=farm, program=program, number=1, state="current",
        made_at=timezone.now() - timedelta(days=90))
    task = Task.objects.create(organisation=farm, version=version, code="belt", title="Check fan belt")
    Interval.objects.create(organisation=farm, task=task, every_hours=100)
    Check.objects.create(organisation=farm, task=task, code="give", label="Give of the belt", kind="measure",
                         unit="mm", lower=Decimal(7), upper=Decimal(9))
    _, answer = ApiToken.issue(name="program", created_by=mara, member=mara)
"""
GENERATOR = "post_hooks: []\npackage_name_override: hourmark_client\n"


def generated(document: bytes, folder: Path) -> Path:
    """Make the client in the folder; return where Python finds it."""
    (folder / "document.yml").write_bytes(document)
    (folder / "generator.yml").write_text(GENERATOR)
    command = ["generate", "--path", "document.yml", "--config", "generator.yml", "--output-path", "client"]
    done = subprocess.run(
        [sys.executable, "-m", "openapi_python_client", *command],
        cwd=folder,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stdout + done.stderr
    return folder / "client"


def test_it_enters_a_machine_and_closes_its_order(installation, tmp_path):
    token = installation.python(SEED)
    installation.start("worker", "worker", "--pool", "solo", "--loglevel", "INFO")
    address = installation.serve()
    with urlopen(f"{address}/api/v1/schema", timeout=30) as answer:
        found = generated(answer.read(), tmp_path)
    done = subprocess.run(
        [sys.executable, str(PROGRAM), address, token],
        env={**os.environ, "PYTHONPATH": str(found)},
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr + done.stdout + installation.said()
    did = json.loads(done.stdout)
    assert did == {
        "counted": 2,
        "due": ["Check fan belt"],
        "refused": [
            ["#/lines/0/checks", True, "Enter what you found."],
            ["#/lines/0/checks/0/check", False, "This check doesn't belong to the line."],
        ],
        "state": "closed",
        "results": [["Give of the belt", True]],
        "hours": ["121.50"],
    }
