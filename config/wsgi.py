"""Entry point for a WSGI server: `gunicorn config.wsgi`."""

import gc
import logging
import os
import sys
from importlib import import_module

from django.conf import settings
from django.core.exceptions import ImproperlyConfigured
from django.core.wsgi import get_wsgi_application

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings")
NO_USE_TO_TRY_AGAIN = 3  # gunicorn ends on this code; after any other it would start again for ever

try:
    application = get_wsgi_application()
    import_module(settings.ROOT_URLCONF)  # all pages, with what they import, before the first is asked for
    from config import starting

    starting.check_static_files()
    try:
        starting.check_database()
    except starting.Unreachable as error:
        logging.getLogger(__name__).warning("%s; pages fail until it does", error)
except ImproperlyConfigured as error:
    sys.stderr.write(f"hourmark: {error}\n")
    sys.exit(NO_USE_TO_TRY_AGAIN)

# What is loaded by now stays; the collector need not look through it again and again.
gc.collect()
gc.freeze()
