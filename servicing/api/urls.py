"""Addresses of the servicing part of the API, below /api/v1/."""

from django.urls import path

from servicing.api.duties import DutiesView, DutyView
from servicing.api.programs import ProgramsView, ProgramView

urlpatterns = [
    path("duties", DutiesView.as_view(), name="api-duties"),
    path("duties/<int:pk>", DutyView.as_view(), name="api-duty"),
    path("programs", ProgramsView.as_view(), name="api-programs"),
    path("programs/<int:pk>", ProgramView.as_view(), name="api-program"),
]
