"""Loading service programs from their files: what is refused, what is stored, when a version is new."""

from copy import deepcopy
from decimal import Decimal
from io import StringIO
from pathlib import Path

import pytest
from django.core.management import CommandError, call_command

from fleet.models import Machine, MachineType
from servicing.duties.refresh import refresh_duties
from servicing.models import Duty, ProgramVersion, ServiceProgram, Task
from servicing.programs.file_format import ProgramFaults, parse, read
from servicing.programs.load import load_program
from tests.factories import MachineFactory, PartFactory

FILES = sorted((Path(__file__).parents[3] / "fixtures" / "programs").glob("*.yaml"))

WRITTEN = """
program: pump
title: Water pump
maker: Haldane
model: WP 4
category: other
source: Invented for this test.
fitments:
  - {code: filter, name: Particulate filter}
round: [front, rear]
tasks:
  - code: oil
    title: Change the oil
    intervals:
      - {first_hours: 50, every_hours: 100, every_months: 12, anchor: marks, early_window_hours: 10}
      - {condition: dust, every_hours: 50, anchor: done}
    skill: technician
    minutes: 20
    engine: warm
    place: front
    prepare: [Park on level ground.]
    cautions:
      - {hazard: hot, text: Hot oil., before_step: 2}
    tools: [{tool: socket, size: 17 mm}, {tool: funnel}]
    supplies: [{name: Engine oil, grade: SAE 15W-40, quantity: 2.5, unit: L, number: HX-1001}]
    steps: [Drain., Fill.]
    checks:
      - {code: gap, kind: measure, label: Gap, unit: mm, lower: 0.3, upper: 0.5, target: 0.4}
      - {code: level, kind: level, label: Level, choices: [{value: full, meaning: "", passes: true}]}
      - {code: stop, kind: function, label: Stops, safety: true, steps: [Pull it.], expect: It stops.}
    outside: adjust
    outside_text: Adjust it.
    manual_page: "3-1"
  - code: burn-off
    title: Clean the filter
    intervals:
      - {first_hours: 10, once: true}
    needs: [filter]
    skill: licensed
    minutes: 30
    engine: any
    place: rear
    prepare: [Park on level ground.]
    steps: [Start the cleaning.]
    manual_page: "3-2"
"""


@pytest.fixture
def document():
    return parse(WRITTEN)


def faults_of(document):
    with pytest.raises(ProgramFaults) as refused:
        read(document)
    return refused.value.faults


def test_a_text_has_two_thousand_characters_at_most(document):
    document["tasks"][0]["steps"][0] = "x" * 2000
    assert read(document).tasks[0]["steps"][0] == "x" * 2000
    document["tasks"][0]["steps"][0] += "x"
    (fault,) = faults_of(document)
    assert "is longer than 2,000 characters" in fault


@pytest.mark.parametrize("file", FILES, ids=lambda file: file.stem)
def test_every_program_that_comes_along_loads_and_is_the_same_again(in_farm, file):
    document = parse(file.read_bytes())
    version = load_program(organisation=in_farm.organisation, document=document)
    assert version.tasks.count() == len(document["tasks"])
    assert load_program(organisation=in_farm.organisation, document=parse(file.read_bytes())) == version


def test_five_programs_of_whole_machines_come_along():
    assert sum(len(parse(file.read_bytes())["tasks"]) >= 15 for file in FILES) == 5


def test_a_program_is_stored_whole(in_farm, document):
    version = load_program(organisation=in_farm.organisation, document=document, member=in_farm.manager)

    assert (version.number, version.state, version.made_by) == (1, "current", in_farm.manager)
    assert (str(version.program.machine_type), version.program.round) == ("Haldane WP 4", ["front", "rear"])
    oil, burn_off = version.tasks.all()
    assert (oil.code, oil.skill, oil.engine, oil.minutes, oil.outside) == (
        "oil",
        "technician",
        "warm",
        20,
        "adjust",
    )
    normal = oil.intervals.get(condition="normal")
    assert (normal.first_hours, normal.every_hours, normal.every_months) == (50, 100, 12)
    assert (normal.anchor, normal.early_window_hours) == ("marks", 10)
    assert oil.intervals.get(condition="dust").anchor == "done"
    gap, level, stop = oil.checks.all()
    assert (gap.lower, gap.upper, gap.target, gap.unit) == (
        Decimal("0.3"),
        Decimal("0.5"),
        Decimal("0.4"),
        "mm",
    )
    assert level.choices == [{"value": "full", "meaning": "", "passes": True}]
    assert (stop.safety, stop.steps, stop.expect) == (True, ["Pull it."], "It stops.")
    need = oil.supplies.get()
    assert (need.quantity, need.part.number, need.part.unit) == (Decimal("2.5"), "HX-1001", "L")
    assert [str(tool) for tool in oil.tools.all()] == ["funnel", "socket 17 mm"]
    assert [fitment.code for fitment in burn_off.needs.all()] == ["filter"]
    assert burn_off.intervals.get().once


def test_a_caution_keeps_what_is_said_of_it_and_no_more(in_farm, document):
    said = {
        "hazard": "scald",
        "signal": "danger",
        "actions": ["gloves", "eyes"],
        "text": "Hot.",
        "before_step": 1,
    }
    document["tasks"][0]["cautions"] = [{"text": "Mind it."}, said]
    version = load_program(organisation=in_farm.organisation, document=document)
    kept = version.tasks.get(code="oil").cautions.values("hazard", "signal", "actions", "text", "before_step")
    assert list(kept) == [
        {"hazard": "general", "signal": "", "actions": [], "text": "Mind it.", "before_step": 0},
        said,
    ]


def test_every_caution_that_comes_along_says_how_badly_it_hurts():
    """And names a hazard; what is worn is asked for by its sign, too, not by the words alone."""
    cautions = [
        caution
        for file in FILES
        for task in read(parse(file.read_bytes())).tasks
        for caution in task["cautions"]
    ]
    assert len(cautions) > 200
    for caution in cautions:
        assert caution["signal"], caution
        assert caution["hazard"] != "general", caution
        for words, action in (("Wear gloves", "gloves"), ("goggles", "eyes"), ("Key out", "key-out")):
            assert words not in caution["text"] or action in caution["actions"], caution


def test_the_same_tasks_again_make_no_version(in_farm, document):
    first = load_program(organisation=in_farm.organisation, document=deepcopy(document))
    document["title"] = "Water pump, second edition"
    assert load_program(organisation=in_farm.organisation, document=document) == first
    assert ServiceProgram.objects.get().title == "Water pump, second edition"
    assert Task.objects.count() == 2


@pytest.mark.parametrize(
    "change",
    [
        lambda task: task.update(minutes=25),
        lambda task: task["intervals"][0].update(every_hours=125),
        lambda task: task["checks"][0].update(upper=0.55),
        lambda task: task["supplies"][0].update(quantity=2.6),
        lambda task: task["cautions"][0].update(before_step=1),
        lambda task: task.update(without=["filter"]),
        lambda task: task["steps"].append("Look for drips."),
    ],
)
def test_a_changed_task_makes_a_version_and_retires_the_former(in_farm, document, change):
    first = load_program(organisation=in_farm.organisation, document=deepcopy(document))
    change(document["tasks"][0])
    second = load_program(organisation=in_farm.organisation, document=document)
    first.refresh_from_db()
    assert (second.number, second.state, first.state) == (2, "current", "retired")


def test_a_new_version_asks_for_new_duties_of_its_machines(in_farm, document):
    load_program(organisation=in_farm.organisation, document=deepcopy(document))
    pump = MachineFactory(organisation=in_farm.organisation, type=MachineType.objects.get())
    refresh_duties(machine_ids=[pump.pk])
    assert Duty.objects.get().mark_hours == 50
    document["tasks"][0]["intervals"][0]["first_hours"] = 40

    load_program(organisation=in_farm.organisation, document=document)

    assert list(Machine.objects.awaiting_projection()) == [pump]
    refresh_duties(machine_ids=[pump.pk])
    assert Duty.objects.get().mark_hours == 40
    assert not Machine.objects.awaiting_projection()


def test_known_parts_keep_their_stock_and_cost(in_farm, document):
    part = PartFactory(
        organisation=in_farm.organisation, number="hx-1001", name="Oil from the drum", unit="L", in_stock=60
    )
    version = load_program(organisation=in_farm.organisation, document=document)
    assert version.tasks.get(code="oil").supplies.get().part == part
    part.refresh_from_db()
    assert (part.name, part.in_stock) == ("Oil from the drum", 60)


def test_a_part_counted_in_another_unit_is_refused(in_farm, document):
    PartFactory(organisation=in_farm.organisation, number="HX-1001", unit="pc")
    with pytest.raises(ProgramFaults, match="HX-1001: is counted in pc here, not in L"):
        load_program(organisation=in_farm.organisation, document=document)
    assert not ProgramVersion.objects.exists()


def test_one_program_for_each_machine_type(in_farm, document):
    load_program(organisation=in_farm.organisation, document=deepcopy(document))
    with pytest.raises(ProgramFaults, match="pump is already the programme of Haldane WP 4"):
        load_program(organisation=in_farm.organisation, document=document | {"model": "WP 5"})
    with pytest.raises(ProgramFaults, match="Haldane WP 4 already has the programme pump"):
        load_program(organisation=in_farm.organisation, document=document | {"program": "pump-b"})


@pytest.mark.parametrize(
    ("change", "fault"),
    [
        (lambda d: d.pop("source"), "source missing"),
        (lambda d: d.update(colour="red"), "colour is not a key here"),
        (lambda d: d.update(program="Water Pump"), "program must be small letters, digits and hyphens"),
        (lambda d: d.update(category="boat"), "category is 'boat'; it must be one of: compact-tractor"),
        (lambda d: d["tasks"][0].update(minute=3), "tasks[0] oil: minute is not a key here"),
        (lambda d: d["tasks"][0].pop("steps"), "tasks[0] oil: steps missing"),
        (lambda d: d["tasks"][0].update(minutes=True), "tasks[0] oil: minutes must be a whole number"),
        (lambda d: d["tasks"][0].update(title=7), "tasks[0] oil: title must be text; put it in quotes"),
        (lambda d: d["tasks"][0]["steps"].insert(0, ""), "tasks[0] oil: steps[0]: is empty"),
        (lambda d: d["tasks"][0]["checks"][0].pop("unit"), "tasks[0] oil: checks[0] gap: unit missing"),
        (
            lambda d: d["tasks"][0]["checks"][0].update(unit="cubit"),
            "checks[0] gap: unit is 'cubit', which is not a unit known here",
        ),
        (lambda d: d["tasks"][0]["checks"][0].update(kind="guess"), "checks[0] gap: kind is 'guess'"),
        (lambda d: d["tasks"][0]["checks"][1].update(unit="mm"), "checks[1] level: unit is not a key here"),
        (
            lambda d: d["tasks"][0]["intervals"][0].update(every_hours=-5),
            "intervals[0]: every_hours must be above zero",
        ),
        (
            lambda d: d["tasks"][0]["intervals"][0].update(every_hours=0.001),
            "intervals[0]: every_hours has more than 2 decimals",
        ),
        (
            lambda d: d["tasks"][0]["cautions"][0].update(hazard="sharks"),
            "cautions[0]: hazard is 'sharks'; it must be one of: general, hot, scald",
        ),
        (
            lambda d: d["tasks"][0]["cautions"][0].update(signal="notice"),
            "line 23: tasks[0] oil: cautions[0]: signal is 'notice'; it must be one of: danger, warning, ",
        ),
        (
            lambda d: d["tasks"][0]["cautions"][0].update(actions=["gloves", "wings"]),
            "tasks[0] oil: cautions[0]: actions[1]: is 'wings'; it must be one of: manual, key-out",
        ),
        (
            lambda d: d["tasks"][0]["cautions"][0].update(actions="gloves"),
            "cautions[0]: actions must be a list with something in it",
        ),
        (lambda d: d.update(tasks=[]), "tasks must be a list with something in it"),
    ],
)
def test_a_wrong_value_is_refused_with_its_place(document, change, fault):
    change(document)
    (said,) = faults_of(document)
    assert fault in said


@pytest.mark.parametrize(
    ("change", "fault"),
    [
        (lambda t: t[1].update(code="oil"), "tasks[1] oil: code is there already"),
        (lambda t: t[0].update(place="roof"), "tasks[0] oil: place is 'roof', which is not listed"),
        (lambda t: t[0].update(needs=["cab"]), "tasks[0] oil: needs cab, which is not one of the fitments"),
        (lambda t: t[1].update(without=["filter"]), "burn-off: both needs and excludes filter"),
        (lambda t: t[0]["cautions"][0].update(before_step=3), "cautions[0]: there is no step 3"),
        (
            lambda t: t[0]["cautions"][0].update(actions=["eyes", "gloves", "eyes"]),
            "tasks[0] oil: cautions[0]: actions list one twice",
        ),
        (
            lambda t: t[0].update(wait_minutes=5, waits_after=3),
            "tasks[0] oil: waits_after is 3, but there is no such step",
        ),
        (lambda t: t[0].update(waits_after=1), "oil: waits_after has no meaning without wait_minutes"),
        (lambda t: t[0]["intervals"][1].pop("anchor"), "intervals[1]: anchor missing"),
        (lambda t: t[0]["intervals"].pop(0), "intervals need one for the condition normal"),
        (lambda t: t[0]["intervals"][0].update(early_window_hours=100), "early window must be shorter"),
        (lambda t: t[1]["intervals"][0].update(every_hours=50), "either due once only or has a period"),
        (lambda t: t[0]["checks"][0].update(lower=0.6), "checks[0] gap: lower is above upper"),
        (lambda t: t[0]["checks"][0].update(target=0.6), "checks[0] gap: target is outside the limits"),
        (lambda t: t[0]["checks"][1]["choices"][0].update(passes=False), "choices need one that passes"),
        (lambda t: t[0].pop("outside_text"), "tasks[0] oil: outside_text missing"),
        (lambda t: t[1].update(outside="refer"), "tasks[1] burn-off: outside has no meaning without checks"),
        (
            lambda t: t[1].update(supplies=[{"name": "Oil", "number": "hx-1001", "quantity": 1}]),
            "supplies[0] hx-1001: has a different name, grade or unit from an earlier task",
        ),
    ],
)
def test_what_does_not_fit_together_is_refused(document, change, fault):
    change(document["tasks"])
    assert any(fault in said for said in faults_of(document))


def test_all_faults_are_said_at_once(document):
    del document["title"]
    document["tasks"][0]["checks"][0].pop("unit")
    document["tasks"][1]["engine"] = "hot"
    assert faults_of(document) == [
        "line 2: title missing",
        "line 28: tasks[0] oil: checks[0] gap: unit missing",
        "line 41: tasks[1] burn-off: engine is 'hot'; it must be one of: any, warm, cold",
    ]


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("minutes: 20", "minutes: soon", "line 18: tasks[0] oil: minutes must be a whole number"),
        ("every_hours: 50", "every_hours: -50", "line 16: tasks[0] oil: intervals[1] dust: every_hours must"),
        ("lower: 0.3", "lower: 0.6", "line 28: tasks[0] oil: checks[0] gap: lower is above upper"),
        ("needs: [filter]", "needs: [cab]", "line 34: tasks[1] burn-off: needs cab, which is not one of"),
        ("title: Water pump", "titel: Water pump", "line 3: titel is not a key here"),
    ],
)
def test_a_fault_names_its_line(old, new, said):
    lines = WRITTEN.replace(old, new, 1)
    assert faults_of(parse(lines))[0].startswith(said)


@pytest.mark.parametrize("document", [None, "text", [], {"tasks": 3}, {"tasks": [3]}])
def test_what_is_no_program_at_all_is_refused(document):
    assert faults_of(document)


def test_yaml_that_says_a_key_twice_is_refused():
    with pytest.raises(ProgramFaults, match="title is there twice in the row that begins in line 1"):
        parse("title: a\ntitle: b\n")


def test_yaml_that_is_none_is_refused():
    with pytest.raises(ProgramFaults, match="not readable as YAML in line 2"):
        parse("title: [a\nb: c")


def test_command_loads_a_file(farm, tmp_path):
    file = tmp_path / "pump.yaml"
    file.write_text(WRITTEN)
    out = StringIO()
    call_command("load_program", str(file), organisation="alder-farm", stdout=out)
    assert out.getvalue() == "Alder Farm: Water pump, version 1\n"
    with farm.scope():
        assert ProgramVersion.objects.current().count() == 1


def test_command_says_each_fault_and_fails(farm, tmp_path):
    file = tmp_path / "pump.yaml"
    file.write_text(WRITTEN.replace("minutes: 20", "minutes: soon"))
    said = StringIO()
    with pytest.raises(CommandError, match="nothing was loaded; 1 to put right"):
        call_command("load_program", str(file), organisation="alder-farm", stderr=said)
    assert "line 18: tasks[0] oil: minutes must be a whole number" in said.getvalue()


@pytest.mark.parametrize(
    ("file", "organisation", "sentence"),
    [
        ("pump.yaml", "nobody", "there is no organisation 'nobody'"),
        ("none.yaml", "alder-farm", "No such file"),
    ],
)
def test_command_fails_with_one_line(farm, file, organisation, sentence):
    with pytest.raises(CommandError, match=sentence):
        call_command("load_program", file, organisation=organisation)
