from django.db import migrations, models


OUTCOMES = {"left": "deferred"}
STATES = {"parked": "on hold", "withdrawn": "cancelled"}
DUTY_BEFORE = {"put_off_until": "deferred_until", "put_off_reason": "deferred_reason"}
LINE_BEFORE = {"put_off_until": "deferred_until"}


def say_it_newly(apps, schema_editor):
    rename(apps, OUTCOMES, STATES, DUTY_BEFORE, LINE_BEFORE)
    check_now(schema_editor)


def say_it_as_before(apps, schema_editor):
    every = (OUTCOMES, STATES, DUTY_BEFORE, LINE_BEFORE)
    rename(apps, *({now: before for before, now in names.items()} for names in every))
    check_now(schema_editor)


def check_now(schema_editor):
    """PostgreSQL alters no table whose rows wait for a check of their keys at the end of the transaction."""
    if schema_editor.connection.vendor == "postgresql":
        schema_editor.execute("SET CONSTRAINTS ALL IMMEDIATE")


def rename(apps, outcomes, states, duty_before, line_before):
    """Values of columns, then what is kept as JSON: a line's duty before it, and what a corrected order said."""
    Line, Amendment, WorkOrder = (
        apps.get_model("servicing", name)._base_manager for name in ("Line", "Amendment", "WorkOrder")
    )
    for old, new in states.items():
        WorkOrder.filter(state=old).update(state=new)
    for old, new in outcomes.items():
        Line.filter(outcome=old).update(outcome=new)
    rewrite(Line.filter(duty_before__isnull=False).only("pk", "duty_before"), "duty_before", lambda kept: renamed(kept, duty_before))
    rewrite(Amendment.only("pk", "before"), "before", lambda kept: version(kept, outcomes, line_before))


def rewrite(rows, field, change):
    """Change a JSON field of many rows, some hundreds at a time."""
    changed = []
    for row in rows.iterator(chunk_size=500):
        setattr(row, field, change(getattr(row, field)))
        changed.append(row)
        if len(changed) == 500:
            rows.model._base_manager.bulk_update(changed, [field])
            changed = []
    rows.model._base_manager.bulk_update(changed, [field])


def renamed(kept, names):
    return {names.get(name, name): value for name, value in kept.items()} if isinstance(kept, dict) else kept


def version(kept, outcomes, names):
    if not isinstance(kept, dict) or "lines" not in kept:
        return kept
    lines = [renamed(line, names) for line in kept["lines"]]
    return kept | {"lines": [line | {"outcome": outcomes.get(line["outcome"], line["outcome"])} for line in lines]}


class Migration(migrations.Migration):
    """The trade's words (EN 13306): what is left for later is deferred, orders are on hold or cancelled."""

    dependencies = [
        ('servicing', '0009_defects_are_faults'),
    ]

    operations = [
        migrations.RemoveConstraint('line', 'left_line_says_why_and_until_when'),
        migrations.RenameField('line', 'put_off_until', 'deferred_until'),
        migrations.RenameField('duty', 'put_off_until', 'deferred_until'),
        migrations.RenameField('duty', 'put_off_reason', 'deferred_reason'),
        migrations.AlterField(
            model_name='line',
            name='outcome',
            field=models.CharField(blank=True, choices=[('done', 'Done'), ('adjusted', 'Adjusted'), ('deferred', 'Deferred'), ('referred', 'Referred'), ('not fitted', 'Not fitted')], max_length=10),
        ),
        migrations.AlterField(
            model_name='line',
            name='reason',
            field=models.TextField(blank=True, help_text='Why it is deferred, or what the dealer is to look at.'),
        ),
        migrations.RemoveIndex('workorder', 'order_open'),
        migrations.RenameField('workorder', 'parked_reason', 'hold_reason'),
        migrations.RenameField('workorder', 'withdrawn_reason', 'cancel_reason'),
        migrations.RenameField('workorder', 'withdrawn_at', 'cancelled_at'),
        migrations.AlterField(
            model_name='workorder',
            name='state',
            field=models.CharField(choices=[('planned', 'Planned'), ('started', 'Started'), ('on hold', 'On hold'), ('closed', 'Closed'), ('cancelled', 'Cancelled')], default='planned', max_length=10),
        ),
        migrations.RunPython(say_it_newly, say_it_as_before),
        migrations.AddIndex(
            'workorder',
            models.Index(condition=models.Q(('state__in', ['planned', 'started', 'on hold'])), fields=['organisation', 'planned_for'], name='order_open'),
        ),
        migrations.AddConstraint(
            'line',
            models.CheckConstraint(condition=models.Q(models.Q(('outcome', 'deferred'), _negated=True), models.Q(models.Q(('reason', ''), _negated=True), ('deferred_until__isnull', False)), _connector='OR'), name='deferred_line_says_why_and_until_when'),
        ),
    ]
