"""Administration in the reader's language: each table and column has a name of its own, in German as well."""

import re
from datetime import UTC, datetime

import pytest
from django.contrib.admin.models import CHANGE, LogEntry
from django.contrib.admin.sites import site
from django.contrib.contenttypes.models import ContentType
from django.test import Client
from django.utils import timezone
from django.utils.functional import Promise
from django.utils.translation import override
from django_scopes import scopes_disabled

from fleet.models import Fitment, Machine, Reading, User
from fleet.usage.figures import DAY_FIRST, ISO, MONTH_FIRST
from servicing.models import Part, RefusedEntries
from tests import untranslated
from tests.factories import (
    AttachmentFactory,
    DutyFactory,
    FaultFactory,
    FitmentFactory,
    IntervalFactory,
    LineFactory,
    PartFactory,
    ReadingFactory,
    TelematicsUnitFactory,
    UserFactory,
)
from tests.fleet.test_admin import page
from tests.fleet.web.rows import device_token, held_reading
from tests.unmarked import marked_messages, unmarked, words_of_people

MODELS = list(site._registry)
SAME_IN_GERMAN = {
    *untranslated.SAME_IN_GERMAN,
    *("Filter", "Normal", "Person", "Warm", "Worker"),
    *("US (in, lbf·ft, gal, psi)", "ISO 8601: 2026-05-03"),
    *("English", "Deutsch", "API"),  # choices that have these names everywhere
}
NOT_OURS_TO_MARK = {"True", "False"}  # pictures of the framework, described in English
SALT = {"te"}  # of a password as the tests hash it
by_name = pytest.mark.parametrize("model", MODELS, ids=lambda model: model.__name__)


@pytest.fixture
def operator(db):
    client = Client()
    client.force_login(UserFactory(username="operator", is_staff=True, is_superuser=True, language="de"))
    return client


@pytest.fixture
def rows(farm):
    """A row of most kinds."""
    with farm.scope():
        held_reading(farm)
    farm.attachment(), device_token(farm)
    for factory in (
        AttachmentFactory,
        DutyFactory,
        FaultFactory,
        FitmentFactory,
        IntervalFactory,
        LineFactory,
    ):
        factory()
    PartFactory(), TelematicsUnitFactory()


def columns(model):
    """The columns that have a name: all but the number of a row and the link to its parent."""
    fields = [*model._meta.fields, *model._meta.many_to_many]
    return [f for f in fields if not f.primary_key and not getattr(f.remote_field, "parent_link", False)]


def german(word):
    assert isinstance(word, Promise), f"not marked for translation: {word}"
    with override("en-gb"):
        english = str(word)
    with override("de"):
        said = str(word)
    assert said != english or said[:1].upper() + said[1:] in SAME_IN_GERMAN, f"no German: {english}"
    return said


@by_name
def test_a_table_has_a_name_for_one_and_for_many(model):
    german(model._meta.verbose_name), german(model._meta.verbose_name_plural)
    german(model._meta.app_config.verbose_name)
    with override("en-gb"):
        assert str(model._meta.verbose_name_plural) != f"{model._meta.verbose_name}ss"


@by_name
def test_a_column_has_a_name(model):
    assert columns(model)
    for field in columns(model):
        german(field.verbose_name)


@by_name
def test_help_and_choices_are_translated(model):
    for field in columns(model):
        if field.help_text:
            german(field.help_text)
        for _value, label in field.flatchoices:
            if label not in SAME_IN_GERMAN:
                german(label)


def addresses(model):
    yield page(model, "changelist")
    with scopes_disabled():
        row = model.objects.first()
    if row is not None:
        yield from (page(model, view, row.pk) for view in ("change", "history", "delete"))
    yield page(model, "add")


def every_page():
    operator = User.objects.get(username="operator")
    yield from ("/admin/", "/admin/password_change/", f"/admin/fleet/user/{operator.pk}/password/")
    yield from {f"/admin/{model._meta.app_label}/" for model in MODELS}
    for model in MODELS:
        yield from addresses(model)


def english_names(model):
    """What its table and columns are called in English and not in German, in small letters."""
    names = [*(field.verbose_name for field in columns(model)), model._meta.verbose_name]
    with override("en-gb"):
        english = {str(name).lower() for name in names}
    with override("de"):
        return english - {str(name).lower() for name in names}


def test_no_page_has_a_word_without_german(operator, rows):
    """Neither ours nor the framework's."""
    operator.get("/admin/")  # what is loaded with the first page looks up words of its own
    with untranslated.untranslated_messages() as found:
        pages = {address: operator.get(address).content.decode() for address in every_page()}
    assert found - SAME_IN_GERMAN == set()
    for model in MODELS:
        assert english_names(model)
        for address in addresses(model):
            said = {piece.strip(" :\n").lower() for piece in re.findall(r">([^<]+)<", pages[address])}
            assert said & english_names(model) == set(), address


def test_no_page_has_a_word_that_nobody_marked(operator, rows):
    known = words_of_people() | NOT_OURS_TO_MARK | SALT
    with marked_messages():
        pages = {address: operator.get(address) for address in every_page()}
    found = {
        address: words
        for address, answer in pages.items()
        if answer.status_code == 200 and (words := unmarked(answer.content.decode(), known))
    }
    assert found == {}


def test_one_and_many_read_well(operator):
    User.objects.update(language="en-gb")
    assert "0 sets of refused entries" in operator.get(page(RefusedEntries, "changelist")).content.decode()
    assert "Select person to change" in operator.get(page(User, "changelist")).content.decode()
    assert "<h1>Fleet</h1>" in operator.get("/admin/fleet/").content.decode()


def test_what_goes_with_a_deleted_row_has_a_name(operator, farm):
    fitment = FitmentFactory(organisation=farm.organisation)
    with farm.scope():
        machine = farm.machine()
        machine.fitments.add(fitment)
    html = operator.get(page(Fitment, "delete", fitment.pk)).content.decode()
    assert f"Maschine (Ausrüstungen): {machine.tag}" in html
    assert "relationship" not in html


def test_rights_that_come_with_the_role_are_not_offered(operator):
    html = operator.get(page(User, "change", User.objects.get().pk)).content.decode()
    assert 'name="language"' in html
    assert 'name="groups"' not in html
    assert 'name="user_permissions"' not in html


@pytest.mark.parametrize(
    ("language", "days", "written"),
    [
        ("en-gb", DAY_FIRST, "3 May 2026, 15:05"),
        ("en-gb", MONTH_FIRST, "May 3, 2026, 15:05"),
        ("en-gb", ISO, "2026-05-03, 15:05"),
        ("en-gb", "", "3 May 2026, 15:05"),
        ("de", DAY_FIRST, "3. Mai 2026, 15:05"),
        ("de", ISO, "2026-05-03, 15:05"),
    ],
)
def test_a_time_has_24_hours_and_a_day_is_written_as_its_reader_writes_it(operator, language, days, written):
    User.objects.update(language=language, days_written=days)
    with timezone.override("UTC"):
        reading = ReadingFactory(taken_at=datetime(2026, 5, 3, 15, 5, tzinfo=UTC))
    kind = ContentType.objects.get_for_model(Machine)
    with scopes_disabled():
        row = Machine.objects.get(pk=reading.machine_id)
    LogEntry.objects.create(
        user=User.objects.get(username="operator"), content_type=kind, object_id=row.pk, action_flag=CHANGE
    )
    LogEntry.objects.update(action_time=reading.taken_at)
    for address in (
        page(Reading, "changelist"),
        page(Reading, "change", reading.pk),
        page(Machine, "history", row.pk),
    ):
        html = operator.get(address).content.decode()
        assert written in html
        assert "p.m." not in html


@pytest.mark.parametrize(("language", "typed"), [("en-gb", "2026-05-03"), ("de", "03.05.2026")])
def test_a_day_in_a_box_can_be_read_in_one_way(operator, farm, language, typed):
    User.objects.update(language=language)
    with farm.scope():
        machine = farm.machine(in_service_on="2026-05-03")
    html = operator.get(page(Machine, "change", machine.pk)).content.decode()
    assert f'name="in_service_on" value="{typed}"' in html


def test_a_persons_password_page_warns_in_their_language(operator):
    pk = User.objects.get().pk
    html = operator.get(f"/admin/fleet/user/{pk}/password/").content.decode()
    assert "Wenn nicht, geht ihr Passwort verloren." in html


def test_nothing_is_protected_without_a_name(operator, farm):
    """A part that a task needs is kept; what needs it is named."""
    task = IntervalFactory().task
    with scopes_disabled():
        part = PartFactory(organisation=task.organisation)
        task.supplies.create(organisation=task.organisation, part=part, quantity=1)
    assert "Benötigtes Material: " in operator.get(page(Part, "delete", part.pk)).content.decode()
