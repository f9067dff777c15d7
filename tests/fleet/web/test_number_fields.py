"""No form has a box for fractions that a browser reads by itself: it would drop a decimal comma."""

import importlib
import pkgutil

import django_filters
import pytest
from django import forms

import fleet.web
import notifications
import servicing.web
from fleet.web.forms.fields import HoursField, PlainDecimalField


def subclasses(kind):
    for each in kind.__subclasses__():
        yield each
        yield from subclasses(each)


def our_forms():
    for package in (fleet.web, servicing.web, notifications):
        for found in pkgutil.walk_packages(package.__path__, f"{package.__name__}."):
            if ".migrations" not in found.name:
                importlib.import_module(found.name)
    return [
        form
        for form in {*subclasses(forms.BaseForm)}
        if form.__module__.startswith(("fleet.web", "servicing.web", "notifications"))
    ]


def test_every_box_that_takes_a_fraction_is_a_text_box():
    fields = [
        (f"{form.__name__}.{name}", field)
        for form in our_forms()
        for name, field in form.base_fields.items()
        if isinstance(field, forms.DecimalField | forms.FloatField)
    ]
    assert {"OutForm.shows", "InForm.shows", "OutForm.hours_a_day"} <= {name for name, _ in fields}
    assert [name for name, field in fields if not isinstance(field, PlainDecimalField)] == []
    for name, field in fields:
        assert field.widget.input_type == "text", name
        assert field.widget.attrs["inputmode"] == "decimal", name


def test_no_filter_takes_a_fraction():
    our_forms()
    kinds = [each for each in subclasses(django_filters.FilterSet) if each.__module__.startswith("servicing")]
    assert kinds
    for kind in kinds:
        assert not [f for f in kind.base_filters.values() if isinstance(f, django_filters.NumberFilter)]


@pytest.mark.parametrize(
    ("typed", "says"),
    [
        ("1,120.5", "can be read in two ways"),
        ("1120,555", "can be read in two ways"),
        ("1120.555", "Give two figures after the point at most."),
        ("1120,5555", "Give two figures after the point at most."),
        ("-5", "Give 0 h or more."),
        ("−0,5", "Give 0 h or more."),
        ("1120 h", "Give the number as the meter shows it"),
        ("99999999.5", "no more than"),
    ],
)
def test_hours_that_cannot_be_are_refused_in_words(typed, says):
    with pytest.raises(forms.ValidationError) as refused:
        HoursField().clean(typed)
    assert says in " ".join(refused.value.messages)


def test_a_decimal_comma_is_read():
    assert str(HoursField().clean("1 120,5")) == "1120.5"
