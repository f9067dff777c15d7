"""The pages of an order's steps."""

import re

from django.urls import reverse


def address(order, step=1):
    """The address of a step."""
    return f"{reverse('order-steps', args=[order.pk])}?step={step}"


def visible(page):
    """The one section that is not hidden."""
    sections = re.findall(r'<section class="work-step".*?</section>', page, re.S)
    seen = [each for each in sections if " hidden>" not in each.split("\n")[0]]
    assert len(seen) == 1
    return seen[0]


def step_of(farm, order, duty):
    """The number of the step that asks for a duty's entries."""
    page = farm.client("technician").get(address(order))
    return next(each.number for each, _ in page.context["overview"] if each.row.line.duty_id == duty.pk)
