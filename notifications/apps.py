from django.apps import AppConfig


class NotificationsConfig(AppConfig):
    name = "notifications"
    verbose_name = "Notifications: who is told what, when, exactly once"

    def ready(self) -> None:
        from fleet import people
        from notifications import links

        people.when_a_link_is_wanted.append(links.post)
