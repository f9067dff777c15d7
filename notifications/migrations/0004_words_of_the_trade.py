from django.db import migrations

KEYS = {":past": ":overdue"}
STATES = {"parked": "on hold"}


def say_it_newly(apps, schema_editor):
    rename(apps, KEYS, STATES)


def say_it_as_before(apps, schema_editor):
    rename(apps, *({now: before for before, now in names.items()} for names in (KEYS, STATES)))


def rename(apps, keys, states):
    """Call what was told as it is called now, or each of these would be told once more."""
    told = apps.get_model("notifications", "ToldFact")._base_manager
    for old, new in keys.items():
        for fact in told.filter(key__startswith="duty:", key__endswith=old).only("pk", "key").iterator(chunk_size=500):
            told.filter(pk=fact.pk).update(key=fact.key.removesuffix(old) + new)
    for old, new in states.items():
        orders = told.filter(key__startswith="order:", fingerprint__startswith=f"{old} ")
        for fact in orders.only("pk", "fingerprint").iterator(chunk_size=500):
            told.filter(pk=fact.pk).update(fingerprint=new + fact.fingerprint.removeprefix(old))


class Migration(migrations.Migration):
    """The trade's words: tasks are overdue, orders are on hold."""

    dependencies = [
        ('notifications', '0003_message_mail_id'),
    ]

    operations = [
        migrations.RunPython(say_it_newly, say_it_as_before),
    ]
