"""The operator's view of every organisation. For superusers alone; people use the pages."""

from typing import Any

from axes.models import AccessFailureLog
from django.contrib import admin
from django.contrib.auth.admin import UserAdmin
from django.http import HttpRequest, HttpResponse
from django.utils.decorators import method_decorator

from fleet.models import (
    ApiToken,
    Ask,
    Attachment,
    Booking,
    Decision,
    Fitment,
    Hire,
    Holiday,
    KeptAnswer,
    LetIn,
    Machine,
    MachineType,
    Member,
    MeterSegment,
    Mounting,
    Newcomer,
    Organisation,
    Reading,
    ReadingPhoto,
    RejectedRow,
    SentFile,
    TagOut,
    TelematicsSource,
    TelematicsUnit,
    User,
    Yard,
)
from fleet.web.confirm import confirmed
from fleet.web.forms.sign_in import OperatorSignInForm

admin.site.login_form = OperatorSignInForm


class ForOperator:
    """Only superusers come in, whatever permissions others may hold."""

    list_per_page = 50
    show_full_result_count = False

    def has_module_permission(self, request: HttpRequest) -> bool:
        """Whether the app is shown at all."""
        return bool(request.user.is_active and request.user.is_superuser)

    def has_view_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        """Whether rows may be looked at."""
        return self.has_module_permission(request)

    def has_add_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        """Whether rows may be made."""
        return self.has_module_permission(request)

    def has_change_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        """Whether rows may be changed."""
        return self.has_module_permission(request)

    def has_delete_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        """Whether rows may be deleted."""
        return self.has_module_permission(request)


class OperatorAdmin(ForOperator, admin.ModelAdmin):
    """A list of rows the operator may change."""


class RecordAdmin(OperatorAdmin):
    """A record of what happened: to be read, never to be made, changed or deleted here."""

    def has_add_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        """Records come about by the processes that make them."""
        return False

    def has_change_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        """Records stay as they are."""
        return False

    def has_delete_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        """Records stay."""
        return False


class KeptAdmin(OperatorAdmin):
    """Rows that carry a history and are retired or switched off, not deleted."""

    def has_delete_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        """Deleting one would take records with it."""
        return False


@admin.register(User)
class PersonAdmin(ForOperator, UserAdmin):
    """People who sign in, whatever organisation they belong to."""

    list_display = ["username", "first_name", "email", "is_active", "is_superuser", "last_login"]

    @method_decorator(confirmed)
    def changeform_view(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        """Make or change a sign-in, once the password was given again."""
        return super().changeform_view(request, *args, **kwargs)

    @method_decorator(confirmed)
    def user_change_password(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        """Set a password, once one's own was given again."""
        return super().user_change_password(request, *args, **kwargs)

    def has_delete_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        """A person is switched off; what they did keeps their name."""
        return False


@admin.register(Organisation)
class OrganisationAdmin(KeptAdmin):
    list_display = ["name", "slug", "currency", "zone", "units"]
    search_fields = ["name", "slug"]
    prepopulated_fields = {"slug": ["name"]}


@admin.register(Member)
class MemberAdmin(KeptAdmin):
    list_display = ["user", "organisation", "role", "active", "mail"]
    list_filter = ["role", "active"]
    list_select_related = ["user", "organisation"]
    search_fields = ["user__username", "user__first_name", "organisation__name"]
    raw_id_fields = ["organisation", "user"]

    @method_decorator(confirmed)
    def changeform_view(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        """Let somebody in or change their role, once the password was given again."""
        return super().changeform_view(request, *args, **kwargs)


@admin.register(Yard)
class YardAdmin(KeptAdmin):
    list_display = ["name", "organisation", "zone"]
    list_select_related = ["organisation"]
    raw_id_fields = ["organisation"]


@admin.register(Fitment)
class FitmentAdmin(OperatorAdmin):
    list_display = ["name", "code", "organisation"]
    list_select_related = ["organisation"]
    raw_id_fields = ["organisation"]


@admin.register(MachineType)
class MachineTypeAdmin(KeptAdmin):
    list_display = ["maker", "model", "category", "organisation"]
    list_filter = ["category"]
    list_select_related = ["organisation"]
    search_fields = ["maker", "model"]
    raw_id_fields = ["organisation", "fitments"]


@admin.register(Machine)
class MachineAdmin(KeptAdmin):
    list_display = ["tag", "type", "yard", "organisation", "hours", "retired_on"]
    list_select_related = ["type", "yard", "organisation"]
    search_fields = ["tag", "serial"]
    raw_id_fields = ["organisation", "type", "yard", "fitments"]
    readonly_fields = ["hours", "hours_at", "in_shop_since", "projection_wanted_at"]


@admin.register(Attachment)
class AttachmentAdmin(KeptAdmin):
    list_display = ["tag", "type", "yard", "organisation", "hours", "retired_on"]
    list_select_related = ["type", "yard", "organisation"]
    search_fields = ["tag", "serial"]
    raw_id_fields = ["organisation", "type", "yard", "fitments"]
    readonly_fields = ["hours", "hours_at", "in_shop_since", "projection_wanted_at"]


@admin.register(ApiToken)
class ApiTokenAdmin(RecordAdmin):
    """Tokens are made and ended on their own page; here is only who has which."""

    list_display = ["name", "prefix", "member", "organisation", "last_used_at", "revoked_at"]
    list_select_related = ["member__user", "organisation"]
    exclude = ["digest", "old_digest"]


@admin.register(Newcomer)
class NewcomerAdmin(RecordAdmin):
    list_display = ["name", "email", "role", "asked_by", "asked_at", "withdrawn_at", "organisation"]
    list_select_related = ["asked_by__user", "organisation"]
    search_fields = ["name", "email"]


@admin.register(KeptAnswer)
class KeptAnswerAdmin(RecordAdmin):
    list_display = ["sender", "key", "made_at", "expires_at", "organisation"]
    list_select_related = ["organisation"]
    exclude = ["body"]


@admin.register(LetIn)
class LetInAdmin(RecordAdmin):
    """Who was let in again after wrong passwords, and by whom."""

    list_display = ["person", "by", "at", "organisation"]
    list_select_related = ["person__user", "by__user", "organisation"]


@admin.register(AccessFailureLog)
class RefusedSignInAdmin(RecordAdmin):
    """Wrong passwords, by what the typed name is counted under."""

    list_display = ["attempt_time", "ip_address", "username", "path_info", "locked_out"]
    list_filter = ["locked_out"]


@admin.register(MeterSegment)
class MeterSegmentAdmin(RecordAdmin):
    list_display = ["machine", "began", "started_at", "ended_at", "offset", "organisation"]
    list_select_related = ["machine", "organisation"]
    search_fields = ["machine__tag"]


@admin.register(ReadingPhoto)
class ReadingPhotoAdmin(RecordAdmin):
    """Photos of meters."""

    list_display = ["reading", "taken_by", "received_at"]
    list_select_related = ["reading__machine", "taken_by__user"]


@admin.register(Reading)
class ReadingAdmin(RecordAdmin):
    list_display = ["machine", "taken_at", "shows", "hours", "state", "source", "organisation"]
    list_filter = ["state", "source"]
    list_select_related = ["machine", "organisation"]
    search_fields = ["machine__tag"]
    date_hierarchy = "taken_at"


@admin.register(Decision)
class DecisionAdmin(RecordAdmin):
    list_display = ["reading", "kind", "was", "became", "by", "at", "organisation"]
    list_filter = ["kind"]
    list_select_related = ["reading__machine", "by__user", "organisation"]
    search_fields = ["reading__machine__tag"]


@admin.register(SentFile)
class SentFileAdmin(RecordAdmin):
    list_display = ["name", "state", "rows", "done", "refused", "sent_by", "sent_at", "organisation"]
    list_filter = ["state"]
    list_select_related = ["sent_by__user", "organisation"]


@admin.register(RejectedRow)
class RejectedRowAdmin(RecordAdmin):
    list_display = ["file", "line", "reason", "organisation"]
    list_select_related = ["file", "organisation"]


@admin.register(TagOut)
class TagOutAdmin(RecordAdmin):
    list_display = ["machine", "reason", "placed_by", "placed_at", "cleared_by", "cleared_at", "organisation"]
    list_select_related = ["machine", "placed_by__user", "cleared_by__user", "organisation"]
    search_fields = ["machine__tag"]


@admin.register(Ask)
class AskAdmin(RecordAdmin):
    list_display = [
        "machine",
        "matter",
        "whom",
        "asked_by",
        "asked_at",
        "dealt_by",
        "dealt_at",
        "organisation",
    ]
    list_select_related = ["machine", "asked_by__user", "dealt_by__user", "organisation"]
    search_fields = ["machine__tag", "whom"]


@admin.register(Mounting)
class MountingAdmin(RecordAdmin):
    list_display = ["attachment", "machine", "mounted_at", "removed_at", "organisation"]
    list_select_related = ["attachment", "machine", "organisation"]


@admin.register(Hire)
class HireAdmin(RecordAdmin):
    list_display = ["machine", "hirer", "out_at", "due_back_on", "back_at", "organisation"]
    list_select_related = ["machine", "organisation"]
    search_fields = ["machine__tag", "hirer"]


@admin.register(Booking)
class BookingAdmin(RecordAdmin):
    list_display = ["machine", "kind", "what", "first_on", "last_on", "hours_a_day", "withdrawn_at"]
    list_select_related = ["machine", "organisation"]
    search_fields = ["machine__tag", "what"]


@admin.register(Holiday)
class HolidayAdmin(RecordAdmin):
    list_display = ["name", "first_on", "last_on", "yard", "organisation"]
    list_select_related = ["yard", "organisation"]
    search_fields = ["name"]


@admin.register(TelematicsSource)
class TelematicsSourceAdmin(RecordAdmin):
    """Sources are entered and changed on their own pages, where a login is encrypted."""

    list_display = ["name", "organisation", "active", "good_at", "error_at", "failures", "next_try_at"]
    list_filter = ["active"]
    list_select_related = ["organisation"]
    exclude = ["secret"]


@admin.register(TelematicsUnit)
class TelematicsUnitAdmin(RecordAdmin):
    list_display = ["key", "source", "machine", "ignored", "receipt", "seen_at", "organisation"]
    list_select_related = ["source", "machine", "organisation"]
    search_fields = ["key", "machine__tag"]
