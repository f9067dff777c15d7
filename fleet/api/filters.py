"""What lists are narrowed by. A filter or a value that isn't known is refused, with those that are."""

from collections.abc import Collection, Mapping
from datetime import UTC, date, datetime
from typing import Any, ClassVar

import django_filters
from django import forms
from django.db.models import QuerySet
from django.utils.translation import gettext as _
from django_filters.fields import IsoDateTimeField
from rest_framework.exceptions import ValidationError
from rest_framework.request import Request


def refuse_unknown(request: Request, known: Collection[str], *, many: Collection[str] = ()) -> None:
    """Raise ValidationError at each query parameter that isn't known, or is given twice and not in `many`."""
    wrong = {}
    for name, values in request.query_params.lists():
        if name not in known and known:
            said = _("There is no such filter here. There are: {names}.")
            wrong[name] = said.format(names=", ".join(sorted(known)))
        elif name not in known:
            wrong[name] = _("This address takes no filters.")
        elif len(values) > 1 and name not in many:
            wrong[name] = _("Give it once.")
    if wrong:
        raise ValidationError(wrong)


class Filters(django_filters.FilterSet):
    """A list's filters: names as in the address, with what each narrows."""

    former: ClassVar[Mapping[str, str]] = {}
    """The name now, by the one that the version before had."""

    @classmethod
    def names(cls) -> set[str]:
        """Every name a filter may be called by."""
        return {*cls.base_filters, *cls.former}

    @classmethod
    def repeated(cls) -> set[str]:
        """The names that may be given more than once."""
        return {
            name
            for name, each in cls.base_filters.items()
            if isinstance(each, django_filters.MultipleChoiceFilter)
        }

    def get_form_class(self) -> type[forms.Form]:
        """Return the form that reads the values; what is refused is told with what there is."""
        form: type[forms.Form] = super().get_form_class()
        for field in form.base_fields.values():
            choices = [str(value) for value, _label in getattr(field, "choices", ()) if value]
            if choices:
                said = _("There is no such value: {value}. There are: {choices}.")
                told = said.format(value="%(value)s", choices=", ".join(choices).replace("%", "%%"))
                field.error_messages = {**field.error_messages, "invalid_choice": told}
        return form


class IdFilter(django_filters.Filter):
    """Rows that name one with this id; no larger than the databases keep."""

    field_class = forms.IntegerField

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, min_value=1, max_value=2**63 - 1, **kwargs)


class DayField(forms.DateField):
    """A day in ISO 8601 and no other way: 3/5 is in March to some, in May to others."""

    def to_python(self, value: Any) -> date | None:
        try:
            return date.fromisoformat(value) if isinstance(value, str) and value else None
        except ValueError:
            raise forms.ValidationError(_("Write the day as 2026-05-03.")) from None


class DayFilter(django_filters.DateFilter):
    """Rows before or after a day."""

    field_class = DayField


class YesNoField(forms.Field):
    """true or false, and nothing else."""

    WORDS = {"true": True, "false": False, "1": True, "0": False}

    def to_python(self, value: Any) -> bool | None:
        if value in (None, ""):
            return None
        if (said := str(value).lower()) not in self.WORDS:
            raise forms.ValidationError(_("Write true or false."))
        return self.WORDS[said]


class YesNoFilter(django_filters.BooleanFilter):
    """Rows of which something is true, or isn't."""

    field_class = YesNoField


class MomentField(IsoDateTimeField):
    """A moment in ISO 8601, read as UTC: no database knows every offset that can be written."""

    def to_python(self, value: Any) -> datetime | None:
        moment = super().to_python(value)
        try:
            return moment and moment.astimezone(UTC)
        except OverflowError:
            raise forms.ValidationError(_("The year can't be right.")) from None


class MomentFilter(django_filters.IsoDateTimeFilter):
    """Rows before or after a moment."""

    field_class = MomentField


class OrderingFilter(django_filters.OrderingFilter):
    """The order that is asked for; a name left out between commas asks for none."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, label="Sort by this; a minus in front turns the order round.", **kwargs)

    def filter(self, qs: QuerySet, value: Any) -> QuerySet:
        return super().filter(qs, [name for name in value or () if name])
