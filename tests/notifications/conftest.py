"""Mail that goes to a server on this machine."""

import pytest

from tests.notifications.sending import PATIENCE


@pytest.fixture
def over_smtp(settings):
    """Let mail go to a server on this machine."""

    def point_to(port, patience=PATIENCE, **more):
        settings.EMAIL_BACKEND = "django.core.mail.backends.smtp.EmailBackend"
        settings.EMAIL_HOST, settings.EMAIL_PORT, settings.EMAIL_TIMEOUT = "127.0.0.1", port, patience
        for name, value in more.items():
            setattr(settings, f"EMAIL_{name}", value)

    return point_to
