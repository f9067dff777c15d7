"""How strangers' servers end: right, asked, refused, or wrong, case by case.

    python benchmarks/stranger_telematics.py [seen|apart] [--all]

Plays the cases of `tests/fleet/telematics/cases/` in a database in memory, over real sockets. `--all` lists
every expectation, not those alone that didn't end right.
"""

import argparse
import ipaddress
import os
import sys
from collections import Counter
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))
import tests.environment  # noqa: F401  (settings of the tests)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("part", nargs="?", choices=["seen", "apart", "third", "judge"])
    parser.add_argument("--all", action="store_true", help="every expectation")
    asked = parser.parse_args()
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings")
    import django

    django.setup()
    from django.conf import settings
    from django.db import connection, transaction

    settings.TELEMATICS_INSIDE = [ipaddress.ip_network("127.0.0.1/32")]
    connection.creation.create_test_db(verbosity=0)
    from tests.cast import build_house
    from tests.fleet.telematics.strangers import RIGHT, cases, play

    for part in [asked.part] if asked.part else ["seen", "apart", "third", "judge"]:
        ends: Counter[str] = Counter()
        for folder in cases(part):
            with transaction.atomic():
                house = build_house(slug=folder.name.replace("_", "-")[:50])
                with house.scope():
                    outcomes = play(folder, house.manager, house.yard)
                transaction.set_rollback(True)
            for each in outcomes:
                ends[each.outcome] += 1
                if asked.all or each.outcome != RIGHT:
                    print(f"{each.outcome:8} {each.case} {each.round} {each.unit}: {each.said[:300]}")
        told = ", ".join(f"{count} {outcome}" for outcome, count in ends.most_common())
        print(f"{part}: {len(cases(part))} cases, {sum(ends.values())} expectations: {told or 'none'}")


if __name__ == "__main__":
    main()
