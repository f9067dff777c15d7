"""The forms of the house: a refusal says what to do, in our words where the framework has its own."""

from django import forms
from django.utils.functional import Promise

REFUSALS = {
    "invalid_choice": "That isn't on the list. Choose again.",
    "invalid_pk_value": "That isn't on the list. Choose again.",
    "max_length": "Make it shorter: %(limit_value)d characters at most, this has %(show_value)d.",
    "max_value": "Give %(limit_value)s at most.",
    "min_value": "Give %(limit_value)s at least.",
    "max_digits": "Give %(max)s figures at most.",
    "max_decimal_places": "Give %(max)s figures after the point at most.",
    "max_whole_digits": "Give %(max)s figures before the point at most.",
    "null_characters_not_allowed": "Type it again: it holds a character that can't be kept.",
}
FILE = {"invalid": "Choose the file again.", "missing": "Choose a file.", "empty": "Choose another file."}
INVALID: dict[type[forms.Field], str] = {
    forms.DateField: "Give the day, like 2026-05-03.",
    forms.DecimalField: "Give a number, like 7.5.",
    forms.IntegerField: "Give a whole number, like 12.",
    forms.EmailField: "Give a mail address, like orla@example.com.",
}


class Form(forms.Form):
    """Refuses in our words. What a field's own `error_messages` say stays as it is."""

    def full_clean(self) -> None:
        """Check what was sent."""
        for name, field in self.fields.items():
            for code, sentence in _sentences(field, str(self[name].label)).items():
                said = field.error_messages.get(code)
                if said is None or isinstance(said, Promise):  # the framework's sentences wait for a language
                    field.error_messages[code] = sentence
        super().full_clean()


def _sentences(field: forms.Field, label: str) -> dict[str, str]:
    """Return what a field may refuse, by the code of the refusal."""
    if isinstance(field, forms.FileField):
        return {"required": "Choose a file.", **FILE}
    sentences = {"required": f"{_asks(field)} “{label}”.", **REFUSALS}
    invalid = INVALID.get(type(field))
    return {**sentences, "invalid": invalid} if invalid else sentences


def _asks(field: forms.Field) -> str:
    if isinstance(field.widget, forms.CheckboxInput):
        return "Tick"
    return "Choose" if isinstance(field, forms.ChoiceField) else "Fill in"
