"""Where somebody goes on to after a choice: back to the page it was made on."""

from django.http import HttpResponseRedirect
from django.shortcuts import redirect
from django.utils.http import url_has_allowed_host_and_scheme

from fleet.web.guards import MemberRequest


def way_back(request: MemberRequest, there: str) -> HttpResponseRedirect:
    """Redirect to `there` if it is an address of ours, else to Today."""
    ours = url_has_allowed_host_and_scheme(there, {request.get_host()}, require_https=request.is_secure())
    return redirect(there if ours else "today")
