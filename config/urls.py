"""Every address of the installation: pages, the API, the operator's admin, health."""

from django.contrib import admin
from django.contrib.auth import views as auth
from django.urls import include, path

from config.health import health, web_health
from fleet.api.page import api_page
from fleet.web.operator import OperatorPassword
from fleet.web.sign_in import SignIn

urlpatterns = [
    path("health", health, name="health"),
    path("health/web", web_health, name="health-web"),
    path("sign-in/", SignIn.as_view(), name="login"),
    path("sign-out/", auth.LogoutView.as_view(), name="logout"),
    path("admin/password_change/", admin.site.admin_view(OperatorPassword.as_view())),
    path("admin/", admin.site.urls),
    path("api/", api_page, name="api"),
    path("api/v1/", include("fleet.api.urls")),
    path("api/v1/", include("servicing.api.urls")),
    path("", include("notifications.web.urls")),
    path("", include("servicing.web.urls")),
    path("", include("fleet.web.urls")),
]

handler400 = "fleet.api.bounded.bad_request"
handler404 = "fleet.api.problems.not_found"
handler500 = "fleet.api.problems.server_error"
