"""What the version before called otherwise: requests may still say it so for this one version.

Answers say the new name only. With the next version every use of this module goes.
"""

from collections.abc import Mapping
from typing import Any, ClassVar

from django.http import QueryDict
from django.utils.translation import gettext_lazy as _
from rest_framework import serializers

from fleet.api.filters import Filters

SAID_TWICE = _("This is the former name of `{name}`, which is here as well. Send one of them.")


class FormerFields(serializers.Serializer):
    """Takes fields under their former names, too. `former`: the name now, by the former one."""

    former: ClassVar[Mapping[str, str]] = {}

    def to_internal_value(self, data: Any) -> Any:
        return super().to_internal_value(under_new_names(data, self.former))


def under_new_names(data: Any, former: Mapping[str, str]) -> Any:
    """Return a body with each field under its name now; what is no mapping comes back as it is.

    Raises ValidationError at a former name that is beside the new one.
    """
    if not isinstance(data, Mapping) or not former.keys() & data.keys():
        return data
    twice = [name for name in former if name in data and former[name] in data]
    if twice:
        raise serializers.ValidationError({name: [SAID_TWICE.format(name=former[name])] for name in twice})
    return {former.get(name, name): value for name, value in data.items()}


class FormerFilters(Filters):
    """Takes query parameters, and values of them, under their former names, too: the name now by the former.

    former_values: by the parameter's name now. They are also found among others between commas, and after the
    minus of an ordering.
    """

    former_values: ClassVar[Mapping[str, Mapping[str, str]]] = {}

    def __init__(self, data: QueryDict | None = None, *args: Any, **options: Any) -> None:
        super().__init__(self._as_now(data) if data else data, *args, **options)

    def _as_now(self, data: QueryDict) -> QueryDict:
        now = QueryDict(mutable=True)
        for name, values in under_new_names(dict(data.lists()), self.former).items():
            former = self.former_values.get(name, {})
            now.setlist(name, [",".join(_now(each, former) for each in value.split(",")) for value in values])
        return now


def _now(value: str, former: Mapping[str, str]) -> str:
    bare = value.removeprefix("-")
    return value.removesuffix(bare) + former.get(bare, bare)
