"""Half of each page of machines stays free on PostgreSQL, so that new hours are written beside the old ones.

Only there can a row be written anew without all its indexes (heap-only tuples, in PostgreSQL's documentation).
"""

from django.db import migrations


def make_room(apps, schema_editor):
    if schema_editor.connection.vendor == "postgresql":
        schema_editor.execute("ALTER TABLE fleet_machine SET (fillfactor = 50)")


def fill_up(apps, schema_editor):
    if schema_editor.connection.vendor == "postgresql":
        schema_editor.execute("ALTER TABLE fleet_machine RESET (fillfactor)")


class Migration(migrations.Migration):
    dependencies = [("fleet", "0001_initial")]
    operations = [migrations.RunPython(make_room, fill_up, elidable=False)]
