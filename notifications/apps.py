from django.apps import AppConfig
from django.utils.translation import gettext_lazy as _


class NotificationsConfig(AppConfig):
    name = "notifications"
    verbose_name = _("Notifications")

    def ready(self) -> None:
        from fleet.accounts import members
        from notifications import links

        members.when_a_link_is_wanted.append(links.post)
