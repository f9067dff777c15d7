#!/usr/bin/env python
"""Django's command line for Hourmark."""

import os
import sys


def main() -> None:
    """Run one command; what the environment or the database lacks ends it with one clear line."""
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings")
    from django.core.exceptions import ImproperlyConfigured
    from django.core.management import execute_from_command_line
    from django.db import Error

    try:
        try:
            execute_from_command_line(sys.argv)
        except Error:
            from config import starting

            starting.check_database()
            raise  # the database is as it should be, so the fault is ours: show where
    except ImproperlyConfigured as error:
        sys.exit(f"hourmark: {error}")
    except KeyboardInterrupt:
        sys.exit(130)  # as a shell tells it


if __name__ == "__main__":
    main()
