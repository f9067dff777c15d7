from django.apps import AppConfig
from django.utils.translation import gettext_lazy as _


class FleetConfig(AppConfig):
    name = "fleet"
    verbose_name = _("Fleet")

    def ready(self) -> None:
        from django.conf import settings
        from django.core.checks import register
        from django.utils.translation import gettext, ngettext

        from fleet.core import languages
        from fleet.usage import figures, language

        language.spoken_by(gettext, ngettext)
        figures.usually_written(languages.way_of_writing(settings.LANGUAGE_CODE))
        register(languages.check_catalogues)
