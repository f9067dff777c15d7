"""What a refused form says, in its title and at each field: what to do, in our own words."""

import re
from html import unescape

import pytest
from django import forms
from django.contrib.auth.forms import AuthenticationForm, SetPasswordMixin
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse
from django.utils import translation
from django.utils.translation import gettext_lazy

from fleet.web import confirm  # noqa: F401  # its form is one of those below
from fleet.web.forms import calendar, files, machines, meters, people, tokens, yards  # noqa: F401
from fleet.web.forms.house import Form, has_its_own
from tests.factories import MachineFactory

OF_DJANGO = (AuthenticationForm, SetPasswordMixin)  # whose fields are asked for below
SENT_EMPTY = {"csrfmiddlewaretoken": "x"}
FRAMEWORK = ["This field is required", "Ensure this value", "Select a valid choice", "Enter a "]


def title(answer):
    return unescape(re.search("<title>(.*?)</title>", answer.content.decode()).group(1))


def kinds(form):
    for kind in form.__subclasses__():
        yield kind
        yield from kinds(kind)


class Everything(Form):
    word = forms.CharField(max_length=3)
    mail = forms.EmailField()
    day = forms.DateField(label="Which day")
    number = forms.IntegerField(min_value=2, max_value=4)
    share = forms.DecimalField(max_digits=3, decimal_places=1)
    role = forms.ChoiceField(choices=[("a", "A")])
    sure = forms.BooleanField()
    file = forms.FileField()
    own = forms.CharField(error_messages={"required": "Say which."})
    late = forms.CharField(error_messages={"required": gettext_lazy("Say when.")})


def test_an_empty_field_says_what_to_do():
    assert {name: said[0] for name, said in Everything({}).errors.items()} == {
        "word": "Fill in “Word”.",
        "mail": "Fill in “Mail”.",
        "day": "Fill in “Which day”.",
        "number": "Fill in “Number”.",
        "share": "Fill in “Share”.",
        "role": "Choose “Role”.",
        "sure": "Tick “Sure”.",
        "file": "Choose a file.",
        "own": "Say which.",
        "late": "Say when.",
    }


def test_no_sentence_of_the_framework_is_left_in_another_language():
    with translation.override("de"):
        said = [
            each for errors in Everything({"number": "x", "role": "b"}).errors.values() for each in errors
        ]
        theirs = [forms.CharField(), forms.IntegerField(), forms.ChoiceField(), forms.FileField()]
        kept = {str(sentence) for field in theirs for sentence in field.error_messages.values()}
    assert "Dieses Feld ist zwingend erforderlich." in kept
    assert kept.isdisjoint(said)


@pytest.mark.parametrize(
    ("name", "sent", "said"),
    [
        ("word", "long", "Make it shorter: 3 characters at most, this has 4."),
        ("word", "a\0", "Type it again: it holds a character that can't be kept."),
        ("mail", "orla", "Give a mail address, like orla@example.com."),
        ("day", "soon", "Give the day, like 2026-05-03."),
        ("number", "x", "Give a whole number, like 12."),
        ("number", "1", "Give 2 at least."),
        ("number", "5", "Give 4 at most."),
        ("share", "x", "Give a number, like 7.5."),
        ("share", "1.25", "Give 1 figure after the point at most."),
        ("share", "12345", "Give 3 figures at most."),
        ("role", "b", "That isn't on the list. Choose again."),
    ],
)
def test_a_wrong_value_says_what_to_do(name, sent, said):
    assert said in Everything({name: sent}).errors[name]


def test_an_empty_file_says_what_to_do():
    sent = {"file": SimpleUploadedFile("empty.csv", b"")}
    assert Everything({}, sent).errors["file"] == ["Choose another file."]


def test_each_field_that_must_be_filled_in_has_a_sentence_of_its_own():
    lacking = [
        f"{form.__name__}.{name}"
        for form in kinds(Form)
        if form.__module__.startswith("fleet.web.") and not issubclass(form, OF_DJANGO)
        for name, field in form.base_fields.items()
        if field.required and not isinstance(field.widget, forms.HiddenInput)
        if not isinstance(field, forms.FileField)
        if not has_its_own(field, "required")
    ]
    assert lacking == []


@pytest.mark.parametrize(
    ("name", "said"),
    [
        ("machine-new", ["Give the fleet number painted on it.", "Choose a model.", "Choose a yard."]),
        ("type-new", ["Give the maker&#x27;s name.", "Give the model.", "Choose a category."]),
        ("holiday-new", ["Give the holiday a name.", "Choose the first day."]),
        ("person-new", ["Give their name.", "Give their mail address.", "Choose a role."]),
        ("token-new", ["Say what will use it, so that you know which one to end."]),
        ("telematics-new", ["Give the source a name.", "Give the address of the fleet snapshot."]),
        ("yard-new", ["Give the yard a name."]),
        ("reading-new", ["Choose a machine.", "Give the hours on the meter."]),
    ],
)
def test_a_page_sent_empty_says_so_in_its_title_and_at_each_field(farm, name, said):
    owner = farm.client("owner")
    with farm.scope():
        MachineFactory(organisation=farm.organisation)
    assert not title(owner.get(reverse(name))).startswith("Error: ")
    answer = owner.post(reverse(name), SENT_EMPTY)
    assert answer.status_code == 422
    page = answer.content.decode()
    assert title(answer).startswith("Error: ")
    assert not [sentence for sentence in FRAMEWORK if sentence in page]
    assert not [sentence for sentence in said if sentence not in page]


@pytest.mark.parametrize("name", ["fault-new", "tag-out", "part-new", "program-load"])
def test_so_does_a_page_about_the_work(farm, name):
    owner = farm.client("owner")
    with farm.scope():
        machine = MachineFactory(organisation=farm.organisation)
    address = reverse(name, args=[machine.pk] if name in ("fault-new", "tag-out") else [])
    assert not title(owner.get(address)).startswith("Error: ")
    answer = owner.post(address, SENT_EMPTY)
    assert title(answer).startswith("Error: ")


def test_so_does_the_sign_in_page(farm):
    assert title(Client().get(reverse("login"))) == "Sign in · Hourmark"
    answer = Client().post(reverse("login"), {"username": farm.owner.user.username, "password": "wrong"})
    assert title(answer) == "Error: Sign in · Hourmark"
    assert "That name and password don&#x27;t match." in answer.content.decode()
    page = Client().post(reverse("login"), {}).content.decode()
    assert "Give your name or mail address." in page
    assert "Type your password." in page


def test_so_does_the_page_that_follows_a_refused_step(farm):
    owner = farm.client("owner")
    again = reverse("person-link", args=[farm.manager.pk])
    with farm.scope():
        type(farm.manager).objects.filter(pk=farm.manager.pk).update(active=False)
    assert title(owner.post(again, follow=True)).startswith("Error: ")
    assert not title(owner.get(reverse("people"))).startswith("Error: ")


@pytest.mark.parametrize(
    ("sent", "said"),
    [
        ({}, ["Type your current password.", "Type a new password.", "Type the new password again."]),
        (
            {"old_password": "x", "new_password1": "three odd words", "new_password2": "three"},
            ["That isn&#x27;t your current password. Type it again.", "The two passwords differ."],
        ),
    ],
)
def test_the_password_page_says_what_to_do(farm, sent, said):
    answer = farm.client("owner").post(reverse("account-password"), sent)
    page = answer.content.decode()
    assert not [sentence for sentence in said if sentence not in page]
    assert title(answer).startswith("Error: ")
