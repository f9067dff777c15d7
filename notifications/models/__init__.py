"""What was told to whom."""

from notifications.models.digest import DigestRun
from notifications.models.message import Message
from notifications.models.told_fact import ToldFact

__all__ = ["DigestRun", "Message", "ToldFact"]
