"""The words of the pages, and what each means here, in a maker's manual and in a standard."""

from django.http import HttpResponse
from django.shortcuts import render

from fleet.web.guards import MemberRequest, members_only


@members_only
def words(request: MemberRequest) -> HttpResponse:
    """Show the word list."""
    return render(request, "servicing/words.html")
