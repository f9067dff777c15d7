"""What keeps pages on a phone without a line: the step by step of an order, the page behind a sticker."""

from django.contrib.staticfiles import finders
from django.http import FileResponse, Http404, HttpRequest
from django.views.decorators.http import require_safe

from fleet.web.policy import WORKER, content_policy


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
