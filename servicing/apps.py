from django.apps import AppConfig
from django.utils.translation import gettext_lazy as _


class ServicingConfig(AppConfig):
    name = "servicing"
    verbose_name = _("Servicing")

    def ready(self) -> None:
        from django.utils.translation import gettext, ngettext

        from fleet.accounts import members
        from fleet.calendar import commitments
        from fleet.machines import retirement
        from fleet.readings import propagation
        from servicing.duties.refresh import queue_refresh
        from servicing.planning import language
        from servicing.workorders import calendar_days, new_order, technicians

        language.spoken_by(gettext, ngettext)
        propagation.when_hours_move.append(queue_refresh)
        retirement.what_keeps.append(new_order.keep_in_service)
        members.when_membership_changes.append(technicians.keep_up)
        commitments.also_promised.append(calendar_days.days_of_orders)
