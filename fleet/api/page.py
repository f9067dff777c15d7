"""The page that says what the API offers."""

from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from fleet.api.guide import guide


@require_safe
def api_page(request: HttpRequest) -> HttpResponse:
    """Show every route, what it takes and answers, and who may; anybody may read it."""
    return render(request, "fleet/api.html", {"guide": guide(), "site": settings.SITE_URL})
