"""Pages by the question they answer: Today, Ahead, Machines, Gate, Bench, Ledger, and what leads on from them."""

from django.urls import path

from servicing.web import ahead, defects, gate, machines, programs, tagouts, today

urlpatterns = [
    path("", today.today, name="today"),
    path("ahead/", ahead.ahead, name="ahead"),
    path("machines/", machines.machines, name="machines"),
    path("machines/<int:pk>/", machines.machine, name="machine"),
    path("programs/", programs.programs, name="programs"),
    path("programs/<int:pk>/", programs.program, name="program"),
    path("gate/", gate.gate, name="gate"),
    path("gate/<int:pk>/out/", gate.gate_out, name="gate-out"),
    path("gate/<int:pk>/back/", gate.gate_in, name="gate-in"),
    path("machines/<int:pk>/faults/new/", defects.defect_new, name="defect-new"),
    path("machines/<int:pk>/tag-out/", tagouts.tag_out, name="tag-out"),
    path("tag-outs/<int:pk>/clear/", tagouts.tag_out_clear, name="tag-out-clear"),
]
