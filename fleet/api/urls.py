"""Addresses of the fleet's API, below /api/v1/."""

from django.urls import path

from fleet.api.bookings import BookingsView
from fleet.api.decisions import (
    CaseView,
    CorrectView,
    CountView,
    DecisionsView,
    DiscardView,
    SwapView,
    UndoView,
)
from fleet.api.machine_types import MachineTypesView
from fleet.api.machines import BringBackView, MachinesView, MachineView, RetireView
from fleet.api.meters import MetersView
from fleet.api.readings import ReadingsView, ReadingView
from fleet.api.schema import Schema
from fleet.api.telematics import IgnoreView, LoosenView, TieView, UnitsView, UnitView
from fleet.api.yards import YardsView

urlpatterns = [
    path("schema", Schema.as_view(), name="api-schema"),
    path("readings", ReadingsView.as_view(), name="api-readings"),
    path("readings/<int:pk>", ReadingView.as_view(), name="api-reading"),
    path("readings/<int:pk>/case", CaseView.as_view(), name="api-reading-case"),
    path("readings/<int:pk>/decisions", DecisionsView.as_view(), name="api-reading-decisions"),
    path("readings/<int:pk>/count", CountView.as_view(), name="api-reading-count"),
    path("readings/<int:pk>/discard", DiscardView.as_view(), name="api-reading-discard"),
    path("readings/<int:pk>/correct", CorrectView.as_view(), name="api-reading-correct"),
    path("readings/<int:pk>/swap", SwapView.as_view(), name="api-reading-swap"),
    path("readings/<int:pk>/undo", UndoView.as_view(), name="api-reading-undo"),
    path("bookings", BookingsView.as_view(), name="api-bookings"),
    path("yards", YardsView.as_view(), name="api-yards"),
    path("machine-types", MachineTypesView.as_view(), name="api-machine-types"),
    path("machines", MachinesView.as_view(), name="api-machines"),
    path("machines/<int:pk>", MachineView.as_view(), name="api-machine"),
    path("machines/<int:pk>/retire", RetireView.as_view(), name="api-machine-retire"),
    path("machines/<int:pk>/bring-back", BringBackView.as_view(), name="api-machine-bring-back"),
    path("machines/<int:pk>/meters", MetersView.as_view(), name="api-machine-meters"),
    path("telematics/units", UnitsView.as_view(), name="api-telematics-units"),
    path("telematics/units/<int:pk>", UnitView.as_view(), name="api-telematics-unit"),
    path("telematics/units/<int:pk>/tie", TieView.as_view(), name="api-telematics-unit-tie"),
    path("telematics/units/<int:pk>/ignore", IgnoreView.as_view(), name="api-telematics-unit-ignore"),
    path("telematics/units/<int:pk>/unlink", LoosenView.as_view(), name="api-telematics-unit-unlink"),
    # former addresses: answered for this one version, left out of the document
    path("readings/<int:pk>/strike", DiscardView.as_view(schema=None), name="api-reading-strike"),
    path("readings/<int:pk>/take-back", UndoView.as_view(schema=None), name="api-reading-take-back"),
]
