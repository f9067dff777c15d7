"""Missing figures: which minutes, costs, rates and prices has nobody entered yet?"""

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from fleet.core.errors import FleetError
from fleet.web.forms.refusals import show
from fleet.web.guards import MemberRequest, needs
from servicing.figures.entering import FiguresRefused, enter, refusals
from servicing.figures.missing import missing
from servicing.web.forms.missing_figures import MissingFiguresForm

MOST = 36  # fields on a page


@needs("manage_fleet")
def missing_figures(request: MemberRequest) -> HttpResponse:
    """Ask for what is missing, the most used first; all that was typed is saved, or nothing."""
    found = missing(request.member)
    form = MissingFiguresForm(
        request.POST if request.method == "POST" else None, member=request.member, shown=found.first(MOST)
    )
    if request.method == "POST" and _entered(request, form):
        return redirect("missing-figures")
    context = {"form": form, "number": len(found), "later": max(len(found) - MOST, 0)}
    status = 422 if form.errors else 200
    return render(request, "servicing/missing_figures.html", context, status=status)


def _entered(request: MemberRequest, form: MissingFiguresForm) -> bool:
    """Whether all that was typed is saved now; else the form says why nothing is."""
    readable = form.is_valid()
    figures = form.figures()
    try:
        if not readable:
            form.show(refusals(member=request.member, figures=figures))
            return False
        number = enter(member=request.member, figures=figures)
    except FiguresRefused as refused:
        form.show(refused.sentences)
    except FleetError as error:
        show(error, form)
    else:
        if number:
            said = ngettext("{n} figure is saved.", "{n} figures are saved.", number).format(n=number)
            messages.success(request, said)
        else:
            messages.info(request, _("Nothing was typed that wasn't entered already."))
        return True
    return False
