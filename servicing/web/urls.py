"""Pages by the question they answer: Today, Ahead, Machines, Gate, Bench, Ledger, and what leads on from them."""

from django.urls import path

from servicing.web import ahead, machines, programs, today

urlpatterns = [
    path("", today.today, name="today"),
    path("ahead/", ahead.ahead, name="ahead"),
    path("machines/", machines.machines, name="machines"),
    path("machines/<int:pk>/", machines.machine, name="machine"),
    path("programs/", programs.programs, name="programs"),
    path("programs/<int:pk>/", programs.program, name="program"),
]
