"""`manage.py import_machines`: the same list from a shell, every missing answer named at once."""

from io import StringIO

import pytest
from django.core.management import CommandError, call_command
from django_scopes import scopes_disabled

from fleet.models import Machine, Yard

LIST = (
    "Fleet no;Make and model;Hours;In service since;Yard\n"
    "T-01;Van Arden 40C;3.240;03/04/2019;Quarry\nT-02;Van Arden 40C;871;;Quarry\n"
)
ANSWERS = {
    "day_order": "dmy",
    "decimal": "comma",
    "since_unknown": True,
    "category": ["Van Arden 40C=tractor"],
    "maker": ["Van Arden 40C=Van Arden"],
    "yard": ["Quarry=add"],
}


@pytest.fixture
def run(farm, tmp_path):
    def run(text=LIST, **options):
        file = tmp_path / "machines.csv"
        file.write_text(text, encoding="utf-8")
        out, err = StringIO(), StringIO()
        call_command(
            "import_machines", file, organisation=farm.organisation.slug, stdout=out, stderr=err, **options
        )
        return out.getvalue() + err.getvalue()

    return run


def tags():
    with scopes_disabled():
        return sorted(Machine.objects.values_list("tag", flat=True))


def test_every_missing_answer_is_named_at_once_in_one_line(run):
    with pytest.raises(CommandError) as refused:
        run()
    (said,) = str(refused.value).splitlines()
    for option in (
        "--day-order dmy|mdy (“03/04/2019”)",
        "--decimal point|comma (“3.240”)",
        "--since-unknown (machines 2)",
        '--yard "Quarry=YARD|add"',
        '--maker "Van Arden 40C=Van"',
        '--category "Van Arden 40C=CATEGORY"',
    ):
        assert option in said
    assert tags() == []


def test_a_dry_run_says_what_it_would_add_and_adds_nothing(run):
    said = run(dry_run=True, **ANSWERS)
    assert "T-01: Van Arden 40C, 3240.00 h, since 2019-04-03, Quarry" in said
    assert "New model: Van Arden | 40C, tractor" in said
    assert "2 machines would be added." in said
    assert tags() == []


def test_with_all_answers_the_list_is_added(farm, run):
    assert "2 machines added, 1 models, 1 yards." in run(**ANSWERS)
    assert tags() == ["T-01", "T-02"]
    with pytest.raises(CommandError, match="--leave-out-known"):
        run(**ANSWERS)
    assert "are here already" in run(**ANSWERS, leave_out_known=True)
    with scopes_disabled():
        assert Yard.objects.filter(name="Quarry").count() == 1


def test_what_is_offered_can_be_taken(run):
    run("Tag,Make,Model,Category,Since\nT-1,Arden,40C,Schlepper,2019-05-13\n", as_offered=True)
    assert tags() == ["T-1"]


def test_columns_can_be_named(run):
    text = "T-01;Arden;40C;1204,5\nT-02;Arden;40C;871\n"
    with pytest.raises(CommandError, match="--column HOLDS=COLUMN"):
        run(text)
    run(
        text,
        column=["maker=2", "model=3"],
        as_offered=True,
        since_unknown=True,
        category=["Arden 40C=tractor"],
    )
    assert tags() == ["T-01", "T-02"]


@pytest.mark.parametrize(
    ("options", "said"),
    [
        ({"column": ["nothing=1"]}, "--column nothing=1"),
        ({"column": ["hours=99"]}, "--column hours=99"),
        ({"category": ["Van Arden 40C=spaceship"]}, "spaceship"),
        ({"category": ["tractor"]}, "NAME=ANSWER"),
        ({"yard": ["Quarry=Nowhere"]}, "no yard 'Nowhere'"),
        ({"by": "nobody@example.org"}, "No active member"),
    ],
)
def test_an_option_that_answers_nothing_is_refused(run, options, said):
    with pytest.raises(CommandError, match=said):
        run(**options)


def test_what_is_wrong_is_said_cell_by_cell(farm, run, tmp_path):
    (tmp_path / "machines.csv").write_text("Tag,Make,Model,Hours,Since\nT-1,Arden,40C,many,soon\n")
    err = StringIO()
    with pytest.raises(CommandError, match=r"2 to put right\. Answer by"):
        call_command(
            "import_machines",
            tmp_path / "machines.csv",
            organisation=farm.organisation.slug,
            stderr=err,
        )
    assert "Machine 1 (T-1), hours: “many” is not a number of hours." in err.getvalue()


def test_somebody_who_may_not_is_refused(farm, run):
    text = "Tag,Make,Model,Category,Since\nT-1,Arden,40C,tractor,2019-05-13\n"
    with pytest.raises(CommandError, match="can't change machines"):
        run(text, by=farm.technician.user.email, as_offered=True)


def test_a_file_or_an_organisation_that_is_not_there(farm, run, tmp_path):
    with pytest.raises(CommandError, match="No such file"):
        call_command("import_machines", tmp_path / "none.csv", organisation=farm.organisation.slug)
    with pytest.raises(CommandError, match="no organisation 'nobody'"):
        call_command("import_machines", tmp_path / "none.csv", organisation="nobody")
