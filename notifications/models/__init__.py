"""What was told to whom."""

from notifications.models.message import Message
from notifications.models.told import ToldFact

__all__ = ["Message", "ToldFact"]
