"""What was sent to whom. Owners see everybody's messages, others their own."""

from django.contrib import messages as notes
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from fleet.core.errors import FleetError
from fleet.web.guards import MemberRequest, members_only, needs
from notifications import outbox
from notifications.models import Message
from notifications.models.message import MessageQuerySet

PAGE = 20
MOST_UNDECIDED = 10  # above the list; the others stand in it
SEEN_AT_ONCE = 2_000  # letters of a message before the rest is folded


def _visible(request: MemberRequest) -> MessageQuerySet:
    seen = Message.objects.select_related("member__user", "newcomer")
    return seen if request.may.manage_people else seen.filter(member=request.member)


@members_only
def sent(request: MemberRequest) -> HttpResponse:
    """List the outbox, newest first."""
    page = Paginator(_visible(request), PAGE).get_page(request.GET.get("page"))
    shown = {"page": page, "undecided": _visible(request).undecided()[:MOST_UNDECIDED]}
    return render(request, "notifications/messages.html", shown)


@members_only
def message(request: MemberRequest, pk: int) -> HttpResponse:
    """Show one message as it was written."""
    shown = get_object_or_404(_visible(request), pk=pk)
    end = shown.body.find("\n", SEEN_AT_ONCE)
    first, rest = (shown.body, "") if end < 0 else (shown.body[:end], shown.body[end + 1 :])
    context = {"message": shown, "first": first, "rest": rest}
    return render(request, "notifications/message.html", context)


@require_POST
@needs("manage_people")
def again(request: MemberRequest, pk: int) -> HttpResponse:
    """Queue a failed or interrupted message once more."""
    try:
        outbox.send_again(message=get_object_or_404(Message.objects.all(), pk=pk))
    except FleetError as error:
        notes.error(request, error.sentence)
    else:
        notes.success(request, _("It will be sent again."))
    return redirect("message", pk=pk)


@require_POST
@needs("manage_people")
def arrived(request: MemberRequest, pk: int) -> HttpResponse:
    """Note that an interrupted message arrived after all."""
    try:
        outbox.mark_arrived(message=get_object_or_404(Message.objects.all(), pk=pk), member=request.member)
    except FleetError as error:
        notes.error(request, error.sentence)
    else:
        notes.success(request, _("Noted: it arrived."))
    return redirect("message", pk=pk)
