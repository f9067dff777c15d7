"""What the version before called otherwise: requests may still say it so for this one version.

Answers say the new name only. With the next version every use of this module goes.
"""

from collections.abc import Mapping
from typing import Any, ClassVar

from rest_framework import serializers

SAID_TWICE = "This is the former name of `{name}`, which is here as well. Send one of them."


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


class FormerChoiceField(serializers.ChoiceField):
    """A choice some of whose values had another name. former: the value now, by the former one."""

    def __init__(self, choices: Any, *, former: Mapping[str, str], **options: Any) -> None:
        super().__init__(choices, **options)
        self._former = former

    def to_internal_value(self, data: Any) -> Any:
        return super().to_internal_value(self._former.get(data, data) if isinstance(data, str) else data)
