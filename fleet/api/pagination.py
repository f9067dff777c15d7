"""How long lists are cut into pages."""

from rest_framework.pagination import PageNumberPagination


class Pages(PageNumberPagination):
    """`?page=2&page_size=200`; 100 a page unless asked, 500 at most."""

    page_query_description = "Which page; the first one without it."
    page_size = 100
    page_size_query_description = "How many a page: 100 without it, 500 at most."
    page_size_query_param = "page_size"
    max_page_size = 500
