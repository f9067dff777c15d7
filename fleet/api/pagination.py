"""How long lists are cut into pages."""

from django.utils.translation import gettext as _
from rest_framework.exceptions import ValidationError
from rest_framework.pagination import PageNumberPagination
from rest_framework.request import Request

from fleet.core.number_reader import read_whole


class Pages(PageNumberPagination):
    """`?page=2&page_size=200`; 100 a page unless asked, 500 at most. More, or no number, is refused."""

    page_query_description = "Which page, from 1; the first one without it. Past the last one is 404."
    page_size = 100
    page_size_query_description = "How many a page: 100 without it, 500 at most."
    page_size_query_param = "page_size"
    max_page_size = 500

    def get_page_size(self, request: Request) -> int:
        """Return how many a page. Raises ValidationError."""
        asked = request.query_params.get(self.page_size_query_param)
        if asked is None:
            return self.page_size
        size = read_whole(asked)
        if size is None or not 1 <= size <= self.max_page_size:
            said = _("Give a whole number from 1 to {most}.")
            raise ValidationError({self.page_size_query_param: said.format(most=self.max_page_size)})
        return size
