"""What sent a reading becomes its kind (`source`) and which of that kind (`sender`).

The kind stood in the sender's own field until now, so that a file named "meter change" passed for one.
"""

from django.db import migrations, models
from django.db.models import F, Value
from django.db.models.functions import Concat, Substr

KINDS = {"meter": "meter change", "correction": "correction", "machine": "new machine"}
ORDER = "order "


def tell_apart(apps, schema_editor):
    readings = apps.get_model("fleet", "Reading").objects.using(schema_editor.connection.alias)
    for source, word in KINDS.items():
        readings.filter(source="page", sender=word).update(source=source, sender="")
    readings.filter(source="order", sender__startswith=ORDER).update(sender=Substr("sender", len(ORDER) + 1))


def mix_again(apps, schema_editor):
    readings = apps.get_model("fleet", "Reading").objects.using(schema_editor.connection.alias)
    for source, word in KINDS.items():
        readings.filter(source=source).update(source="page", sender=word)
    readings.filter(source="order").update(sender=Concat(Value(ORDER), F("sender")))



class Migration(migrations.Migration):

    dependencies = [
        ('fleet', '0007_files_read_by_a_worker'),
    ]

    operations = [
        migrations.RemoveConstraint(
            model_name='reading',
            name='reading_client_id_once',
        ),
        migrations.AlterField(
            model_name='reading',
            name='sender',
            field=models.CharField(blank=True, help_text="Which of that kind: the token or member, file, order's number or telematics source.", max_length=80),
        ),
        migrations.AlterField(
            model_name='reading',
            name='source',
            field=models.CharField(choices=[('page', 'Page'), ('api', 'API'), ('file', 'File'), ('gate', 'Gate'), ('order', 'Work order'), ('phone', 'Phone'), ('telematics', 'Telematics'), ('machine', 'Entry of the machine'), ('meter', 'Change of the meter'), ('correction', 'Correction')], help_text='What kind of sender it was.', max_length=10),
        ),
        migrations.AddConstraint(
            model_name='reading',
            constraint=models.UniqueConstraint(condition=models.Q(('client_id__isnull', False)), fields=('organisation', 'source', 'sender', 'client_id'), name='reading_client_id_once'),
        ),
        migrations.RunPython(tell_apart, mix_again, elidable=True),
    ]
