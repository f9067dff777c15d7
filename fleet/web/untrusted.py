"""A form that came without its token, or from elsewhere: each cause has its own answer."""

from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.middleware.csrf import REASON_NO_CSRF_COOKIE, REASON_NO_REFERER
from django.shortcuts import render
from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

NOT_HTTPS = _("Your browser sent no cookie. Open the site with https://, then try again.")
NO_COOKIE = _("Your browser sent no cookie. Allow cookies for this site, reload the page and try again.")
NO_REFERER = _(
    "Your browser didn't say which page this came from. Let it send the referrer to this site, then try "
    "again."
)
OTHER_SITE = _(
    "This came from an address we don't know. Open the site at {site}, then try again. If you did, tell "
    "whoever looks after this installation that HOURMARK_TRUSTED_ORIGINS doesn't name it."
)
TOO_OLD = _(
    "This page is out of date: you have signed in or out since it was loaded, perhaps in another window. Go "
    "back, reload the page and try again."
)


def refused(request: HttpRequest, reason: str = "") -> HttpResponse:
    """CSRF_FAILURE_VIEW: say what to do about the reason Django gives."""
    sentence: str | Promise
    site = ""
    if reason == REASON_NO_CSRF_COOKIE:
        plain = settings.CSRF_COOKIE_SECURE and not request.is_secure()
        sentence, site = (NOT_HTTPS, settings.SITE_URL) if plain else (NO_COOKIE, "")
    elif reason == REASON_NO_REFERER:
        sentence = NO_REFERER
    elif reason.startswith(("Origin checking failed", "Referer checking failed")):
        sentence, site = OTHER_SITE.format(site=settings.SITE_URL), settings.SITE_URL
    else:
        sentence = TOO_OLD
    return render(request, "403_csrf.html", {"sentence": sentence, "site": site}, status=403)
