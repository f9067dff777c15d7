"""Addresses of the servicing part of the API, below /api/v1/."""

from django.urls import path

from servicing.api.duties import DutiesView, DutyView
from servicing.api.faults import FaultsView, FaultView, JudgeView
from servicing.api.hires import AdditionsView, HiresView, HireView, TakeBackView
from servicing.api.last_done import LastDoneView
from servicing.api.orders import (
    AmendView,
    CancelView,
    CloseView,
    CorrectionsView,
    HoldView,
    OrdersView,
    OrderView,
    PhotosView,
    RecordView,
    ResumeView,
    StartView,
)
from servicing.api.parts import PartsView, PartView
from servicing.api.phone import PhoneEntriesView, PhonePhotosView, PhoneView
from servicing.api.programs import ProgramsView, ProgramView
from servicing.api.setup import SetupView
from servicing.api.technicians import TechniciansView

urlpatterns = [
    path("setup", SetupView.as_view(), name="api-setup"),
    path("tasks-due", DutiesView.as_view(), name="api-tasks-due"),
    path("tasks-due/<int:pk>", DutyView.as_view(), name="api-task-due"),
    path("machines/<int:pk>/last-done", LastDoneView.as_view(), name="api-last-done"),
    path("programs", ProgramsView.as_view(), name="api-programs"),
    path("programs/<int:pk>", ProgramView.as_view(), name="api-program"),
    path("technicians", TechniciansView.as_view(), name="api-technicians"),
    path("parts", PartsView.as_view(), name="api-parts"),
    path("parts/<int:pk>", PartView.as_view(), name="api-part"),
    path("faults", FaultsView.as_view(), name="api-faults"),
    path("faults/<int:pk>", FaultView.as_view(), name="api-fault"),
    path("faults/<int:pk>/judge", JudgeView.as_view(), name="api-fault-judge"),
    path("hires", HiresView.as_view(), name="api-hires"),
    path("hires/<int:pk>", HireView.as_view(), name="api-hire"),
    path("hires/<int:pk>/back", TakeBackView.as_view(), name="api-hire-back"),
    path("hires/<int:pk>/additions", AdditionsView.as_view(), name="api-hire-additions"),
    path("phone", PhoneView.as_view(), name="api-phone"),
    path("phone/entries", PhoneEntriesView.as_view(), name="api-phone-entries"),
    path("phone/readings/<int:pk>/photos", PhonePhotosView.as_view(), name="api-phone-photos"),
    path("orders", OrdersView.as_view(), name="api-orders"),
    path("orders/<int:pk>", OrderView.as_view(), name="api-order"),
    path("orders/<int:pk>/start", StartView.as_view(), name="api-order-start"),
    path("orders/<int:pk>/hold", HoldView.as_view(), name="api-order-hold"),
    path("orders/<int:pk>/resume", ResumeView.as_view(), name="api-order-resume"),
    path("orders/<int:pk>/cancel", CancelView.as_view(), name="api-order-cancel"),
    path("orders/<int:pk>/record", RecordView.as_view(), name="api-order-record"),
    path("orders/<int:pk>/lines/<int:line>/photos", PhotosView.as_view(), name="api-order-photos"),
    path("orders/<int:pk>/close", CloseView.as_view(), name="api-order-close"),
    path("orders/<int:pk>/amend", AmendView.as_view(), name="api-order-amend"),
    path("orders/<int:pk>/corrections", CorrectionsView.as_view(), name="api-order-corrections"),
]

# What the version before called otherwise: these answer for one version, and the document doesn't name them.
urlpatterns += [
    path("duties", DutiesView.as_view(schema=None), name="api-duties"),
    path("duties/<int:pk>", DutyView.as_view(schema=None), name="api-duty"),
    path("orders/<int:pk>/park", HoldView.as_view(schema=None), name="api-order-park"),
    path("orders/<int:pk>/withdraw", CancelView.as_view(schema=None), name="api-order-withdraw"),
]
