"""Light or dark: as the device says, or as somebody chose on it."""

from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.utils.translation import pgettext_lazy
from django.views.decorators.http import require_POST

from fleet.web.guards import MemberRequest, members_only
from fleet.web.way_back import way_back

LIGHT, DARK, SYSTEM = "light", "dark", "system"
WORDS = (
    (LIGHT, pgettext_lazy("look of the pages", "Light")),
    (DARK, pgettext_lazy("look of the pages", "Dark")),
    (SYSTEM, pgettext_lazy("look of the pages", "Automatic")),
)
LASTS = 60 * 60 * 24 * 365  # seconds


def chosen(request: HttpRequest) -> str:
    """Return what was chosen on this device; `system` where nothing was."""
    asked = request.COOKIES.get(settings.LOOK_COOKIE, "")
    return asked if asked in (LIGHT, DARK) else SYSTEM


@require_POST
@members_only
def look(request: MemberRequest) -> HttpResponse:
    """Choose for this device, and go back to the page."""
    answer = way_back(request, request.GET.get("next", ""))
    asked = request.POST.get("look", "")
    if asked in (LIGHT, DARK):
        secure = settings.SESSION_COOKIE_SECURE
        answer.set_cookie(
            settings.LOOK_COOKIE, asked, max_age=LASTS, secure=secure, httponly=True, samesite="Lax"
        )
    else:
        answer.delete_cookie(settings.LOOK_COOKIE, samesite="Lax")
    return answer
