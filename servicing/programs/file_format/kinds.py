"""The kinds of value that may stand under a key, and what is said of a value that is none of its kind.

`bounds` is what a form's field for such a value is made with.
"""

from dataclasses import dataclass, field
from decimal import Decimal
from typing import Annotated, Any, TypeVar

from django.db.models import TextChoices
from django.utils.translation import gettext_noop as _
from pydantic import AfterValidator, Field, GetCoreSchemaHandler, GetJsonSchemaHandler
from pydantic_core import CoreSchema, PydanticCustomError, core_schema

from servicing.measurements import limits
from servicing.programs.file_format.limits import LONGEST_TEXT

Entry = TypeVar("Entry")
NEVER_CONVERTED = ("A", "Hz", "Mohm", "percent", "h")  # units that stand alone
UNITS = {unit for kind in limits.KINDS for unit in kind} | set(NEVER_CONVERTED)


@dataclass(frozen=True, slots=True)
class Text:
    """Words, at most `longest` characters, without the spaces around them."""

    longest: int = LONGEST_TEXT
    empty: bool = False

    @property
    def bounds(self) -> dict[str, Any]:
        return {"max_length": self.longest}

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        words = core_schema.str_schema(
            strict=True, min_length=0 if self.empty else 1, max_length=self.longest, pattern=r"^[^\x00]*$"
        )
        return core_schema.no_info_before_validator_function(_stripped, words)

    def __get_pydantic_json_schema__(
        self, schema: CoreSchema, handler: GetJsonSchemaHandler
    ) -> dict[str, Any]:
        return {"type": "string", "maxLength": self.longest} | ({} if self.empty else {"pattern": r"\S"})


@dataclass(frozen=True)
class Kind:
    """What pydantic takes for a kind of value, and the one sentence that is said of anything else.

    sentence: in English, to be translated when it is said, then filled in with the `values`.
    """

    taken: CoreSchema
    sentence: str
    values: dict[str, Any] = field(default_factory=dict)
    bounds: dict[str, Any] = field(default_factory=dict)

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        return core_schema.custom_error_schema(
            self.taken,
            "wrong",
            custom_error_message=self.sentence,
            custom_error_context={"sentence": self.sentence, **self.values},
        )


def one_of(choices: type[TextChoices]) -> Kind:
    """One of the words of a model's choices."""
    words = [str(word) for word in choices.values]
    return Kind(
        core_schema.literal_schema(words),
        _("is {said}; it must be one of: {words}"),
        {"words": ", ".join(words)},
    )


def whole(most: int = 32767, *, least: int = 0) -> Kind:
    """A whole number."""
    return Kind(
        core_schema.int_schema(strict=True, ge=least, le=most),
        _("must be a whole number from {least} to {most}"),
        {"least": least, "most": most},
        {"min_value": least, "max_value": most},
    )


@dataclass(frozen=True, slots=True)
class Number:
    """An exact number with at most so many decimals and digits in all."""

    places: int = 2
    digits: int = 9
    zero: bool = True
    signed: bool = False

    @property
    def beyond(self) -> int:
        """What is too large."""
        return int(10 ** (self.digits - self.places))

    def read(self, value: Any) -> Decimal:
        """Return the number exactly as it was written."""
        if isinstance(value, bool) or not isinstance(value, int | float | Decimal):
            raise wrong(_("must be a number"))
        if isinstance(value, int) and abs(value) >= self.beyond:  # its digits are more than can be written
            raise wrong(_("is too large"))
        exact = Decimal(str(value))
        if not exact.is_finite() or abs(exact) >= self.beyond:
            raise wrong(_("is too large"))
        if exact != round(exact, self.places):
            raise wrong(_("has more than {places} decimals"), places=self.places)
        if not self.signed and (exact < 0 or not (exact or self.zero)):
            raise wrong(_("must not be below zero") if self.zero else _("must be above zero"))
        return exact

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        return core_schema.no_info_plain_validator_function(self.read)

    def __get_pydantic_json_schema__(
        self, schema: CoreSchema, handler: GetJsonSchemaHandler
    ) -> dict[str, Any]:
        least = "minimum" if self.zero and not self.signed else "exclusiveMinimum"
        return {"type": "number", least: -self.beyond if self.signed else 0, "exclusiveMaximum": self.beyond}


def wrong(sentence: str, **values: Any) -> PydanticCustomError:
    """What a value that can't stand where it stands is refused by; the sentence completes "KEY ..."."""
    told = {"sentence": sentence, **values}
    return PydanticCustomError("wrong", sentence, told)  # type: ignore[arg-type]  # it asks for a literal


def _stripped(value: Any) -> Any:
    return value.strip() if isinstance(value, str) else value


def _unit(written: str) -> str:
    spelled: str = limits.spelled(written)
    if spelled not in UNITS:
        raise wrong(_("is {said}, which is not a unit known here"))
    return spelled


FLAG = Kind(core_schema.bool_schema(strict=True), _("must be true or false"))
Flag = Annotated[bool, FLAG]
Slug = Annotated[
    str,
    Kind(
        core_schema.str_schema(strict=True, max_length=50, pattern="^[a-z0-9]+(-[a-z0-9]+)*$"),
        _("must be small letters, digits and hyphens, at most 50"),
        bounds={"max_length": 50},
    ),
]
Filled = Annotated[list[Entry], Field(min_length=1)]
"""A list with something in it."""
Slugs = Filled[Slug]
Sentences = Filled[Annotated[str, Text()]]
Unit = Annotated[str, Text(12), AfterValidator(_unit)]
"""A unit a check can be judged in, as Hourmark writes it."""
