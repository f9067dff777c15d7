from django.apps import AppConfig


class ServicingConfig(AppConfig):
    name = "servicing"
    verbose_name = "Servicing: what must be done, when, by whom, and what was done"

    def ready(self) -> None:
        from fleet import moved, people, promised
        from servicing import due, technicians
        from servicing.orders import takes_days

        moved.when_hours_move.append(due.hours_moved)
        people.when_membership_changes.append(technicians.keep_up)
        promised.also_promised.append(takes_days.days_of_orders)
