"""Readings and decisions say what the trade says: discarded and undone, not struck and taken back."""

import django.db.models.deletion
from django.db import migrations, models

STATES = {'struck': 'discarded'}
KINDS = {'struck': 'discarded', 'taken back': 'undone'}
COLUMNS = [('Reading', 'state', STATES), ('Decision', 'was', STATES), ('Decision', 'became', STATES), ('Decision', 'kind', KINDS)]


def rename(apps, schema_editor, *, back=False):
    for model, column, names in COLUMNS:
        # the base manager: rows of every organisation
        rows = apps.get_model('fleet', model)._base_manager.using(schema_editor.connection.alias)
        for former, name in names.items():
            old, new = (name, former) if back else (former, name)
            rows.filter(**{column: old}).update(**{column: new})
    if schema_editor.connection.vendor == 'postgresql':
        schema_editor.execute('SET CONSTRAINTS ALL IMMEDIATE')  # it alters no table whose rows wait for a check


def rename_back(apps, schema_editor):
    rename(apps, schema_editor, back=True)


STATE_CHOICES = [('counted', 'Counted'), ('held', 'Held'), ('discarded', 'Discarded')]


class Migration(migrations.Migration):

    dependencies = [
        ('fleet', '0009_notes_of_a_return'),
    ]

    operations = [
        migrations.RemoveConstraint(
            model_name='decision',
            name='only_taking_back_takes_back',
        ),
        migrations.RenameField(
            model_name='decision',
            old_name='takes_back',
            new_name='undoes',
        ),
        migrations.AlterField(
            model_name='decision',
            name='undoes',
            field=models.OneToOneField(blank=True, null=True, on_delete=django.db.models.deletion.CASCADE, related_name='undone_by', to='fleet.decision'),
        ),
        migrations.AlterField(
            model_name='decision',
            name='along_with',
            field=models.ForeignKey(blank=True, help_text='The other half of a swap; both are undone together.', null=True, on_delete=django.db.models.deletion.CASCADE, related_name='+', to='fleet.decision'),
        ),
        migrations.AlterField(
            model_name='decision',
            name='kind',
            field=models.CharField(choices=[('counted', 'Counted as it stands'), ('discarded', 'Discarded'), ('corrected', 'Corrected'), ('swapped', "Swapped with another machine's"), ('meter', 'Counted on the new meter'), ('undone', 'Undone'), ('by itself', 'Judged again')], max_length=10),
        ),
        migrations.AlterField(
            model_name='decision',
            name='was',
            field=models.CharField(choices=STATE_CHOICES, max_length=10),
        ),
        migrations.AlterField(
            model_name='decision',
            name='became',
            field=models.CharField(choices=STATE_CHOICES, max_length=10),
        ),
        migrations.AlterField(
            model_name='reading',
            name='state',
            field=models.CharField(choices=STATE_CHOICES, max_length=10),
        ),
        migrations.RunPython(rename, rename_back, elidable=True),
        migrations.AddConstraint(
            model_name='decision',
            constraint=models.CheckConstraint(condition=models.Q(('kind', 'undone'), ('undoes', None), _connector='OR'), name='only_an_undoing_undoes'),
        ),
    ]
