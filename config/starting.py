"""What must be there before the installation starts, told in one line each, with what to run."""

from typing import cast

from django.apps import apps
from django.conf import settings
from django.contrib.staticfiles.apps import StaticFilesConfig
from django.contrib.staticfiles.finders import get_finders
from django.contrib.staticfiles.storage import ManifestFilesMixin, staticfiles_storage
from django.core.exceptions import ImproperlyConfigured
from django.db import Error, connection
from django.db.migrations.executor import MigrationExecutor

UNCOLLECTED = "static files{which} are not collected; run: python manage.py collectstatic --noinput"
UNMIGRATED = "the database lacks tables of this version; run: python manage.py migrate --noinput"


class Unreachable(ImproperlyConfigured):
    """The database doesn't answer, or refuses this name and password."""


def check_database() -> None:
    """Return when the database has all tables of this version.

    Raises Unreachable when it doesn't answer, ImproperlyConfigured when tables are missing.
    """
    connection.close()  # what failed before on this connection must not speak here
    try:
        executor = MigrationExecutor(connection)
        wanted = executor.migration_plan(executor.loader.graph.leaf_nodes())
    except Error as error:
        reason = str(error).strip().partition("\n")[0] or type(error).__name__
        raise Unreachable(f"no connection to the database: {reason}") from None
    finally:
        connection.close()
    if wanted:
        raise ImproperlyConfigured(UNMIGRATED)


def check_static_files() -> None:
    """Return when every static file of this version is collected, or none need be.

    Raises ImproperlyConfigured when files are missing: pages that ask for them would fail.
    """
    if settings.WHITENOISE_USE_FINDERS:
        return
    collected = cast(ManifestFilesMixin, staticfiles_storage).hashed_files
    ignored = cast(StaticFilesConfig, apps.get_app_config("staticfiles")).ignore_patterns
    ours = {name.replace("\\", "/") for finder in get_finders() for name, _ in finder.list(ignored)}
    if missing := sorted(ours - collected.keys()):
        some = f" ({missing[0]} and {len(missing) - 1} more)" if collected else ""
        raise ImproperlyConfigured(UNCOLLECTED.format(which=some))
