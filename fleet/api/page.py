"""The page that says what the API offers."""

from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_safe

from fleet.api.guide import guide

SAMPLE = '{"readings": [{"machine": "T-07", "taken_at": "2026-05-03T07:40:00Z", "meter": 1204.5}]}'


@require_safe
def api_page(request: HttpRequest) -> HttpResponse:
    """Show every route, what it takes and answers, and who may; anybody may read it."""
    context = {
        "guide": guide(),
        "sample": SAMPLE,
        "machines": f"{settings.SITE_URL}{reverse('api-machines')}",
        "readings": f"{settings.SITE_URL}{reverse('api-readings')}",
    }
    return render(request, "fleet/api.html", context)
