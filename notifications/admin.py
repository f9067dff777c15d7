"""The operator's view of what was told to whom. For superusers alone."""

from django.contrib import admin

from fleet.admin import RecordAdmin
from notifications.models import DigestRun, Message, ToldFact


@admin.register(Message)
class MessageAdmin(RecordAdmin):
    list_display = ["subject", "address", "member", "state", "attempts", "made_at", "sent_at", "organisation"]
    list_filter = ["state"]
    list_select_related = ["member__user", "organisation"]
    search_fields = ["address", "subject"]


@admin.register(ToldFact)
class ToldFactAdmin(RecordAdmin):
    list_display = ["key", "member", "message", "organisation"]
    list_select_related = ["member__user", "message", "organisation"]


@admin.register(DigestRun)
class DigestRunAdmin(RecordAdmin):
    list_display = ["day", "organisation", "made_at"]
    list_select_related = ["organisation"]
