"""Pages for a load balancer or a container's health check. They are open to everybody and tell only this."""

from django.db import Error, connection
from django.http import HttpRequest, JsonResponse
from django.views.decorators.cache import never_cache

from fleet import signs_of_life


@never_cache
def health(request: HttpRequest) -> JsonResponse:
    """Tell whether all parts live: 200, or 503 with the names of those that are gone.

    `seconds` are the ages of their last signs of life, null where there never was one. For an alarm; a web
    server is not to be started again because a worker is gone, so its own check asks `web_health`.
    """
    try:
        life = signs_of_life.look()
    except Error:
        return JsonResponse({"status": "unhealthy", "gone": ["database"]}, status=503)
    ages = {part: None if age is None else round(age) for part, age in life.ages.items()}
    body = {"status": life.status, "gone": life.gone, "seconds": ages}
    return JsonResponse(body, status=503 if life.gone else 200)


@never_cache
def web_health(request: HttpRequest) -> JsonResponse:
    """Answer 200 when this web server and its database answer, else 503."""
    try:
        with connection.cursor() as cursor:
            cursor.execute("SELECT 1")
    except Error:
        return JsonResponse({"status": "unhealthy", "gone": ["database"]}, status=503)
    return JsonResponse({"status": "ok"})
