"""The operator's view of what was told to whom. For superusers alone."""

from fleet.admin import show
from notifications.models import DigestRun, Message, ToldFact

show(
    Message,
    "subject address member state attempts made_at sent_at organisation",
    filters="state",
    search="address subject",
)
show(ToldFact, "key member message organisation")
show(DigestRun, "day organisation made_at")
