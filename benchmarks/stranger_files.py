"""How files of readings as strangers write them come in: a table of every case in tests/fleet/imports/cases.

.venv/bin/python benchmarks/stranger_files.py
"""

import os
import sys
import tempfile
from pathlib import Path

ROOT = Path(__file__).parents[1]
sys.path.insert(0, str(ROOT))
os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings")
os.environ.setdefault("HOURMARK_ENV", "demo")


def main() -> None:
    """Play every case through in a database of its own, and print what came of it."""
    import django

    django.setup()

    from django.conf import settings
    from django.db import transaction
    from django.test.utils import get_runner, setup_test_environment

    from tests.cast import build_house
    from tests.fleet.imports.stranger_cases import cases, score, table

    setup_test_environment()
    runner = get_runner(settings)(verbosity=0)
    databases = runner.setup_databases()
    scores = []
    try:
        with tempfile.TemporaryDirectory() as media:
            settings.MEDIA_ROOT = media
            for name, path, case in cases():
                with transaction.atomic():
                    farm = build_house(name="Alder Farm", slug="alder-farm")
                    with farm.scope():
                        scores.append(score(farm, name, path, case))
                    transaction.set_rollback(True)
    finally:
        runner.teardown_databases(databases)
    sys.stdout.write(table(scores) + "\n")


if __name__ == "__main__":
    main()
