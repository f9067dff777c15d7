"""The forms of the house: a refusal says what to do, in our words where the framework has its own."""

from typing import TYPE_CHECKING

from django import forms
from django.utils.translation import gettext_lazy as _
from django.utils.translation import ngettext_lazy

if TYPE_CHECKING:
    from django_stubs_ext import StrOrPromise

    Sentences = dict[str, StrOrPromise]

FRAMEWORK = "django"
REFUSALS: "Sentences" = {
    "invalid_choice": _("That isn't on the list. Choose again."),
    "invalid_pk_value": _("That isn't on the list. Choose again."),
    "max_length": ngettext_lazy(
        "Make it shorter: %(limit_value)d character at most, this has %(show_value)d.",
        "Make it shorter: %(limit_value)d characters at most, this has %(show_value)d.",
        "limit_value",
    ),
    "max_value": _("Give %(limit_value)s at most."),
    "min_value": _("Give %(limit_value)s at least."),
    "max_digits": ngettext_lazy("Give %(max)s figure at most.", "Give %(max)s figures at most.", "max"),
    "max_decimal_places": ngettext_lazy(
        "Give %(max)s figure after the point at most.",
        "Give %(max)s figures after the point at most.",
        "max",
    ),
    "max_whole_digits": ngettext_lazy(
        "Give %(max)s figure before the point at most.",
        "Give %(max)s figures before the point at most.",
        "max",
    ),
    "null_characters_not_allowed": _("Type it again: it holds a character that can't be kept."),
}
FILE: "Sentences" = {
    "required": _("Choose a file."),
    "invalid": _("Choose the file again."),
    "missing": _("Choose a file."),
    "empty": _("Choose another file."),
}
INVALID: "dict[type[forms.Field], StrOrPromise]" = {
    forms.DateField: _("Give the day, like 2026-05-03."),
    forms.DecimalField: _("Give a number, like 7.5."),
    forms.IntegerField: _("Give a whole number, like 12."),
    forms.EmailField: _("Give a mail address, like orla@example.com."),
}


class Form(forms.Form):
    """Refuses in our words. What a field's own `error_messages` say stays as it is."""

    def full_clean(self) -> None:
        """Check what was sent."""
        for name, field in self.fields.items():
            for code, sentence in _sentences(field, str(self[name].label)).items():
                if not has_its_own(field, code):
                    field.error_messages[code] = sentence
        super().full_clean()


def has_its_own(field: forms.Field, code: str) -> bool:
    """Whether a field refuses by that code in words of ours, and not in none or in the framework's.

    The framework's are those that its classes of fields keep: the very objects, whatever they read.
    """
    said = field.error_messages.get(code)
    return said is not None and not any(said is theirs for theirs in _frameworks(type(field), code))


def _frameworks(kind: type[forms.Field], code: str) -> "list[StrOrPromise]":
    """Return what the framework's classes among a field's say by that code."""
    classes = [each for each in kind.__mro__ if each.__module__.partition(".")[0] == FRAMEWORK]
    kept = [vars(each).get("default_error_messages", {}) for each in classes]
    return [messages[code] for messages in kept if code in messages]


def _sentences(field: forms.Field, label: str) -> "Sentences":
    """Return what a field may refuse, by the code of the refusal."""
    if isinstance(field, forms.FileField):
        return FILE
    sentences = {"required": _asks(field).format(label=label), **REFUSALS}
    invalid = INVALID.get(type(field))
    return {**sentences, "invalid": invalid} if invalid else sentences


def _asks(field: forms.Field) -> "StrOrPromise":
    if isinstance(field.widget, forms.CheckboxInput):
        return _("Tick “{label}”.")
    return _("Choose “{label}”.") if isinstance(field, forms.ChoiceField) else _("Fill in “{label}”.")
