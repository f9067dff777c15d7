from uuid import uuid4

from django.db import migrations, models

import notifications.models.message


def give_each_its_own(apps, schema_editor):
    messages = apps.get_model("notifications", "Message")._base_manager
    rows = []
    for row in messages.only("pk").iterator(chunk_size=1000):
        row.mail_id = f"{uuid4().hex}@localhost"
        rows.append(row)
        if len(rows) == 1000:
            messages.bulk_update(rows, ["mail_id"])
            rows = []
    messages.bulk_update(rows, ["mail_id"])


class Migration(migrations.Migration):
    dependencies = [
        ('notifications', '0002_one_time_links'),
    ]

    operations = [
        migrations.AddField(
            model_name="message",
            name="mail_id",
            field=models.CharField(default="", editable=False, max_length=255),
            preserve_default=False,
        ),
        migrations.RunPython(give_each_its_own, migrations.RunPython.noop, elidable=True),
        migrations.AlterField(
            model_name="message",
            name="mail_id",
            field=models.CharField(
                default=notifications.models.message.new_mail_id, editable=False, max_length=255, unique=True
            ),
        ),
    ]
