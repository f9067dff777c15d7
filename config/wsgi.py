"""Entry point for a WSGI server: `gunicorn config.wsgi`."""

import gc
import os
import sys
from importlib import import_module

from django.conf import settings
from django.core.exceptions import ImproperlyConfigured
from django.core.wsgi import get_wsgi_application

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings")

try:
    application = get_wsgi_application()
    import_module(settings.ROOT_URLCONF)  # all pages, with what they import, before the first is asked for
except ImproperlyConfigured as error:
    sys.exit(f"hourmark: {error}")

# What is loaded by now stays; the collector need not look through it again and again.
gc.collect()
gc.freeze()
