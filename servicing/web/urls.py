"""Pages by the question they answer: Today, Ahead, Machines, Gate, Bench, Ledger, and what follows."""

from django.urls import path

from servicing.web import (
    ahead,
    bench,
    closing,
    defects,
    gate,
    ledger,
    machines,
    orders,
    programs,
    tagouts,
    technicians,
    today,
    track,
)

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
    path("bench/", bench.bench, name="bench"),
    path("orders/", orders.orders, name="orders"),
    path("orders/new/", orders.order_new, name="order-new"),
    path("orders/<int:pk>/", orders.order, name="order"),
    path("orders/<int:pk>/sheet/", orders.order_sheet, name="order-sheet"),
    path("orders/<int:pk>/close/", closing.order_close, name="order-close"),
    path("orders/<int:pk>/start/", orders.order_start, name="order-start"),
    path("orders/<int:pk>/park/", orders.order_park, name="order-park"),
    path("orders/<int:pk>/resume/", orders.order_resume, name="order-resume"),
    path("orders/<int:pk>/withdraw/", orders.order_withdraw, name="order-withdraw"),
    path("orders/<int:pk>/assign/", orders.order_assign, name="order-assign"),
    path("technicians/", technicians.technicians, name="technicians"),
    path("technicians/<int:pk>/", technicians.technician, name="technician"),
    path("ledger/", ledger.ledger, name="ledger"),
    path("ledger/track/", track.ledger_track, name="ledger-track"),
]
