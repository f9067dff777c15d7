import django.db.models.deletion
from django.db import migrations, models

import fleet.models.fields


class Migration(migrations.Migration):
    """The trade says fault (EN 13306). Photos kept before stay where they are."""

    dependencies = [
        ('servicing', '0008_tasks_that_run_the_engine'),
    ]

    operations = [
        migrations.RenameModel('Defect', 'Fault'),
        migrations.AlterField(
            model_name='fault',
            name='machine',
            field=models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='faults', to='fleet.machine'),
        ),
        migrations.AlterField(
            model_name='fault',
            name='line',
            field=models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.SET_NULL, related_name='faults', to='servicing.line'),
        ),
        migrations.AlterField(
            model_name='fault',
            name='photo',
            field=models.ImageField(blank=True, upload_to=fleet.models.fields.PhotoPath('faults')),
        ),
        migrations.RemoveConstraint('fault', 'defect_says_what'),
        migrations.AddConstraint(
            'fault',
            models.CheckConstraint(condition=models.Q(('text', ''), _negated=True), name='fault_says_what'),
        ),
    ]
