"""The operator's own password, where the admin leaves guesses of it uncounted."""

from typing import Any

from django.contrib import admin
from django.contrib.auth.views import PasswordChangeView
from django.urls import reverse_lazy

from fleet.web.forms.sign_in import OperatorPasswordForm


class OperatorPassword(PasswordChangeView):
    """As the admin's page of this name, but that a wrong old password counts."""

    form_class = OperatorPasswordForm
    success_url = reverse_lazy("admin:password_change_done")

    def get_form_kwargs(self) -> dict[str, Any]:
        return {**super().get_form_kwargs(), "request": self.request}

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        return super().get_context_data(**admin.site.each_context(self.request), **kwargs)
