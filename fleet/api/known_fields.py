"""Bodies of which nothing is passed over in silence."""

from collections.abc import Mapping
from typing import Any

from rest_framework import serializers

NO_SUCH_FIELD = "There is no such field here."


class KnownFieldsSerializer(serializers.Serializer):
    """Refuses a field it doesn't have: what was sent under a misspelt or former name isn't lost unseen."""

    def to_internal_value(self, data: Any) -> Any:
        refused: dict[str, Any] = {}
        if isinstance(data, Mapping):
            refused = {str(name): [NO_SUCH_FIELD] for name in data if name not in self.fields}
        try:
            given = super().to_internal_value(data)
        except serializers.ValidationError as error:
            if refused and isinstance(error.detail, dict):
                raise serializers.ValidationError(refused | error.detail) from None
            raise
        if refused:
            raise serializers.ValidationError(refused)
        return given
