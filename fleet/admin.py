"""The operator's view of every organisation. For superusers alone; people use the pages."""

from typing import Any

from axes.models import AccessFailureLog
from django.apps import apps
from django.contrib import admin
from django.contrib.auth.admin import UserAdmin
from django.contrib.auth.models import Group
from django.db.models import ManyToManyField, Model, URLField
from django.http import HttpRequest, HttpResponse
from django.utils.decorators import method_decorator
from django.utils.text import format_lazy
from django.utils.translation import gettext_lazy as _

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
    SetupStep,
    TagOut,
    TelematicsSource,
    TelematicsUnit,
    User,
    Yard,
)
from fleet.web.confirm import confirmed
from fleet.web.forms.sign_in import OperatorSignInForm, PersonPasswordForm

admin.site.login_form = OperatorSignInForm
admin.site.index_title = _("Administration")
admin.site.enable_nav_sidebar = False  # the first page lists everything
admin.site.unregister(Group)  # rights come with roles
apps.get_app_config("axes").verbose_name = _("Refused sign-ins")

NAMED_BY = {
    "Member": "__user",
    "Technician": "__member__user",
    "Reading": "__machine",
    "WorkOrder": "__machine",
    "ProgramVersion": "__program",
}
"""What else is asked for with a row of these, for it is in their name."""


class ForOperator:
    """Only superusers come in, whatever permissions others may hold."""

    list_per_page = 50
    show_full_result_count = False
    formfield_overrides: Any = {URLField: {"assume_scheme": "https"}}

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


class MemberAdmin(KeptAdmin):
    """Members, whose role gives power over an organisation."""

    @method_decorator(confirmed)
    def changeform_view(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        """Let somebody in or change their role, once the password was given again."""
        return super().changeform_view(request, *args, **kwargs)


@admin.register(User)
class PersonAdmin(ForOperator, UserAdmin):
    """People who sign in, whatever organisation they belong to."""

    list_display = ["username", "first_name", "email", "is_active", "is_superuser", "last_login"]
    list_filter = ["is_active", "is_superuser"]
    filter_horizontal = []
    change_password_form = PersonPasswordForm
    readonly_fields = ["last_login", "date_joined"]
    fieldsets = [
        (None, {"fields": ["username", "password"]}),
        (_("Person"), {"fields": ["first_name", "last_name", "email"]}),
        (_("Language"), {"fields": ["language", "decimal_mark", "days_written"]}),
        (_("Rights"), {"fields": ["is_active", "is_staff", "is_superuser"]}),  # a member's come with the role
        (_("Days"), {"fields": ["last_login", "date_joined"]}),
    ]

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


def show(
    model: type[Model],
    columns: str,
    *,
    kind: type[OperatorAdmin] = RecordAdmin,
    filters: str = "",
    search: str = "",
    **more: Any,
) -> None:
    """Register a model: the columns of its list, what narrows it and what is searched; fields by their names.

    Rows that columns refer to are asked for with the list. Where rows may be changed, other rows are chosen
    by their id: a list of all of them would be too long.
    """
    shown = columns.split()
    references = {
        field.name: field.related_model
        for field in model._meta.fields
        if field.many_to_one and field.related_model
    }
    options = {
        "list_display": shown,
        "list_filter": filters.split(),
        "search_fields": search.split(),
        "list_select_related": [
            name + NAMED_BY.get(references[name].__name__, "") for name in shown if name in references
        ],
        "raw_id_fields": [*references, *(field.name for field in model._meta.many_to_many)],
    }
    admin.site.register(model, type(f"{model.__name__}Admin", (kind,), options | more))
    for field in model._meta.local_many_to_many:
        name_ties(field)


def name_ties(field: ManyToManyField) -> None:
    """Name the rows that tie a model's rows to others: they are listed where one is to be deleted."""
    through: Any = field.remote_field.through
    name = format_lazy("{model} ({field})", model=field.model._meta.verbose_name, field=field.verbose_name)
    through._meta.verbose_name = through._meta.verbose_name_plural = name
    through.__str__ = lambda tie: str(getattr(tie, field.m2m_field_name()))


WORKED_OUT = ["hours", "hours_at", "in_shop_since", "projection_wanted_at"]

show(
    Organisation,
    "name slug currency zone units set_up_at",
    kind=KeptAdmin,
    search="name slug",
    prepopulated_fields={"slug": ["name"]},
)
show(
    Member,
    "user organisation role active mail",
    kind=MemberAdmin,
    filters="role active",
    search="user__username user__first_name organisation__name",
)
show(Yard, "name organisation zone", kind=KeptAdmin)
show(SetupStep, "step organisation waved_off_by waved_off_at", filters="step")
show(Fitment, "name code organisation", kind=OperatorAdmin)
show(
    MachineType, "maker model category organisation", kind=KeptAdmin, filters="category", search="maker model"
)
show(
    Machine,
    "tag type yard organisation hours retired_on",
    kind=KeptAdmin,
    search="tag serial",
    readonly_fields=WORKED_OUT,
)
show(
    Attachment,
    "tag type yard organisation hours retired_on",
    kind=KeptAdmin,
    search="tag serial",
    readonly_fields=WORKED_OUT,
)
show(ApiToken, "name prefix member organisation last_used_at revoked_at", exclude=["digest", "old_digest"])
show(Newcomer, "name email role asked_by asked_at withdrawn_at organisation", search="name email")
show(KeptAnswer, "sender key made_at expires_at organisation", exclude=["body"])
show(LetIn, "person by at organisation")
show(AccessFailureLog, "attempt_time ip_address username path_info locked_out", filters="locked_out")
show(MeterSegment, "machine began started_at ended_at offset organisation", search="machine__tag")
show(ReadingPhoto, "reading taken_by received_at")
show(
    Reading,
    "machine taken_at shows hours state source organisation",
    filters="state source",
    search="machine__tag",
    date_hierarchy="taken_at",
)
show(Decision, "reading kind was became by at organisation", filters="kind", search="reading__machine__tag")
show(SentFile, "name state rows done refused sent_by sent_at organisation", filters="state")
show(RejectedRow, "file line reason organisation")
show(TagOut, "machine reason placed_by placed_at cleared_by cleared_at organisation", search="machine__tag")
show(Ask, "machine matter whom asked_by asked_at dealt_by dealt_at organisation", search="machine__tag whom")
show(Mounting, "attachment machine mounted_at removed_at organisation")
show(Hire, "machine hirer out_at due_back_on back_at organisation", search="machine__tag hirer")
show(Booking, "machine kind what first_on last_on hours_a_day withdrawn_at", search="machine__tag what")
show(Holiday, "name first_on last_on yard organisation", search="name")
show(
    TelematicsSource,
    "name organisation active good_at error_at failures next_try_at",
    filters="active",
    exclude=["secret"],
)
show(TelematicsUnit, "key source machine ignored receipt seen_at organisation", search="key machine__tag")
