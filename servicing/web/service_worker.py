"""What keeps pages on a phone without a line: the step by step of an order, the page behind a sticker."""

import posixpath
import re
from functools import cache
from pathlib import Path

from django.conf import settings
from django.contrib.staticfiles import finders
from django.http import FileResponse, Http404, HttpRequest
from django.views.decorators.http import require_safe

from fleet.web.headers import WORKER, content_policy

IMPORT = re.compile(r"""(?:^|;)\s*(?:import|export)\b(?:[^;"']*\bfrom)?\s*["'](\.[^"']+)["']""", re.MULTILINE)


@require_safe
@content_policy(WORKER)
def service_worker(request: HttpRequest) -> FileResponse:
    """Send the script that keeps pages on a phone.

    One for all, from the root: it must see a sign-out on whatever page it happens.
    """
    path = finders.find("hourmark/service-worker.js")
    if path is None:
        raise Http404
    answer = FileResponse(open(path, "rb"), content_type="text/javascript; charset=utf-8")  # noqa: PTH123, SIM115
    answer["Cache-Control"] = "no-cache"
    return answer


@cache
def scripts_of(script: str) -> tuple[str, ...]:
    """Return the addresses of all that a page's script imports, to be kept with the page."""
    known: list[str] = []
    _follow(script, known)
    return tuple(f"{settings.STATIC_URL}{name}" for name in known)


def imports_in(text: str) -> list[str]:
    """Return what a script imports, or exports from elsewhere, by the relative paths it writes.

    Not those of `import()`: a test refuses a script that names another in a way that isn't found here.
    """
    return IMPORT.findall(text)


def _follow(script: str, known: list[str]) -> None:
    text = Path(str(finders.find(script))).read_text(encoding="utf-8")
    for path in imports_in(text):
        name = posixpath.normpath(posixpath.join(posixpath.dirname(script), path))
        if name not in known:
            known.append(name)
            _follow(name, known)
