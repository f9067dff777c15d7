"""What the intake is compared with: COPY, and the usual way to write one."""

import json
import time

import psycopg

from benchmarks.sending.boxes import BATCH, Batches


def copied(url: str) -> float:
    """Rows a second at which COPY writes the readings there are into their own table, emptied before."""
    from fleet.models import Reading

    columns = ", ".join(str(field.column) for field in Reading._meta.concrete_fields if not field.primary_key)
    with psycopg.connect(url) as connection:
        with connection.cursor().copy(f"COPY fleet_reading ({columns}) TO STDOUT") as copy:
            rows = b"".join(copy)
        count = rows.count(b"\n")
        connection.execute("TRUNCATE fleet_reading CASCADE")
        connection.commit()
        began = time.perf_counter()
        with connection.cursor().copy(f"COPY fleet_reading ({columns}) FROM STDIN") as copy:
            for n in range(0, len(rows), 1 << 16):
                copy.write(rows[n : n + (1 << 16)])
        connection.commit()
        return count / (time.perf_counter() - began)


def plainly(batches: Batches, total: int) -> float:
    """Seconds that a ModelSerializer with its unique validators takes for the first `total` rows.

    What it can't do is done for it and not timed: the machine's id for its tag, its meter, its total hours.
    """
    from django.db import transaction
    from django_scopes import scope
    from rest_framework import serializers

    from fleet.models import Machine, MeterSegment, Organisation, Reading

    owner = Organisation.objects.get(slug="benchmark")

    class Plain(serializers.ModelSerializer):
        organisation = serializers.HiddenField(default=owner)
        sender = serializers.HiddenField(default="plain")
        meter = serializers.DecimalField(9, 2, source="shows")

        class Meta:
            model = Reading
            fields = ["organisation", "sender", "machine", "taken_at", "meter", "client_id", "note"]

    with scope(organisation=owner):
        Reading.objects.all().delete()
        ids = dict(Machine.objects.values_list("tag", "pk"))
        meters = dict(MeterSegment.objects.values_list("machine", "pk"))
        same = {"state": "counted", "code": "ok", "source": "api"}
        seconds = 0.0
        for body in batches[0][: total // BATCH]:
            data = [row | {"machine": ids[row["machine"]]} for row in json.loads(body)["readings"]]
            began = time.perf_counter()
            with transaction.atomic():
                serializer = Plain(data=data, many=True)
                serializer.is_valid(raise_exception=True)
                Reading.objects.bulk_create(
                    Reading(**row, **same, segment_id=meters[row["machine"].pk], hours=row["shows"])
                    for row in serializer.validated_data
                )
            seconds += time.perf_counter() - began
    return seconds
