"""Organisations, people, machines and readings."""

from datetime import UTC, date, datetime
from decimal import Decimal

import factory
from django.contrib.auth.hashers import MD5PasswordHasher
from django_scopes import scopes_disabled

from fleet import models
from tests.factories.base import ScopedFactory

PASSWORD = "a-long-enough-word"
HASHED = MD5PasswordHasher().encode(PASSWORD, "test")


class OrganisationFactory(factory.django.DjangoModelFactory):
    class Meta:
        model = models.Organisation

    name = factory.Sequence(lambda n: f"Farm {n}")
    slug = factory.Sequence(lambda n: f"farm-{n}")
    zone = "Europe/Madrid"
    set_up_at = datetime(2026, 1, 1, tzinfo=UTC)  # long ago; None: a new one, led by Today


class UserFactory(factory.django.DjangoModelFactory):
    class Meta:
        model = models.User

    username = factory.Sequence(lambda n: f"person{n}")
    first_name = factory.Sequence(lambda n: f"Person{n}")
    email = factory.LazyAttribute(lambda user: f"{user.username}@example.org")
    password = HASHED


class MemberFactory(ScopedFactory):
    class Meta:
        model = models.Member

    organisation = factory.SubFactory(OrganisationFactory)
    user = factory.SubFactory(UserFactory)
    role = "manager"


class YardFactory(ScopedFactory):
    class Meta:
        model = models.Yard

    organisation = factory.SubFactory(OrganisationFactory)
    name = factory.Sequence(lambda n: f"Yard {n}")


class FitmentFactory(ScopedFactory):
    class Meta:
        model = models.Fitment

    organisation = factory.SubFactory(OrganisationFactory)
    code = factory.Sequence(lambda n: f"fitment-{n}")
    name = factory.Sequence(lambda n: f"Fitment {n}")


class MachineTypeFactory(ScopedFactory):
    class Meta:
        model = models.MachineType

    organisation = factory.SubFactory(OrganisationFactory)
    maker = "Haldane"
    model = factory.Sequence(lambda n: f"HX {n}")
    category = "compact-tractor"


class MachineFactory(ScopedFactory):
    """A machine with its first meter segment, hours from `hours` and no reading."""

    class Meta:
        model = models.Machine
        skip_postgeneration_save = True

    organisation = factory.SubFactory(OrganisationFactory)
    type = factory.SubFactory(MachineTypeFactory, organisation=factory.SelfAttribute("..organisation"))
    yard = factory.SubFactory(YardFactory, organisation=factory.SelfAttribute("..organisation"))
    tag = factory.Sequence(lambda n: f"M-{n:03d}")
    in_service_on = date(2026, 1, 1)

    @factory.post_generation
    def meter(self, create: bool, extracted: object, **kwargs: object) -> None:
        if create:
            models.MeterSegment(  # type: ignore[misc]  # self is the machine that was made
                organisation=self.organisation, machine=self, started_at=datetime(2026, 1, 1, tzinfo=UTC)
            ).save()


def running_segment(machine: models.Machine) -> models.MeterSegment:
    """Return the machine's meter that is running now."""
    with scopes_disabled():
        return models.MeterSegment.objects.get(machine=machine, ended_at=None)


class ReadingFactory(ScopedFactory):
    """A counted reading as a row. To let one in as the system would, call fleet.readings.take."""

    class Meta:
        model = models.Reading

    organisation = factory.SelfAttribute("machine.organisation")
    machine = factory.SubFactory(MachineFactory)
    segment = factory.LazyAttribute(lambda reading: running_segment(reading.machine))
    taken_at = factory.Sequence(lambda n: datetime(2026, 2, 1, 12, n % 60, tzinfo=UTC))
    shows = Decimal("10.0")
    hours = factory.SelfAttribute("shows")
    state = "counted"
    code = "ok"
    source = "page"
    sender = "page"


class AttachmentFactory(ScopedFactory):
    class Meta:
        model = models.Attachment

    organisation = factory.SubFactory(OrganisationFactory)
    type = factory.SubFactory(
        MachineTypeFactory, organisation=factory.SelfAttribute("..organisation"), category="attachment"
    )
    yard = factory.SubFactory(YardFactory, organisation=factory.SelfAttribute("..organisation"))
    tag = factory.Sequence(lambda n: f"A-{n:03d}")
    in_service_on = date(2026, 1, 1)
    hours = factory.SelfAttribute("hours_before")
    hours_before = Decimal(0)


class BookingFactory(ScopedFactory):
    class Meta:
        model = models.Booking

    organisation = factory.SelfAttribute("machine.organisation")
    machine = factory.SubFactory(MachineFactory)
    kind = "hire"
    what = "Gala Ros"
    first_on = date(2026, 6, 8)
    last_on = date(2026, 6, 12)
    hours_a_day = Decimal(6)
    made_at = datetime(2026, 1, 1, tzinfo=UTC)


class HolidayFactory(ScopedFactory):
    class Meta:
        model = models.Holiday

    organisation = factory.SubFactory(OrganisationFactory)
    name = "Midsummer"
    first_on = date(2026, 6, 24)
    last_on = date(2026, 6, 24)


class TelematicsSourceFactory(ScopedFactory):
    class Meta:
        model = models.TelematicsSource

    organisation = factory.SubFactory(OrganisationFactory)
    name = factory.Sequence(lambda n: f"Feed {n}")
    url = "https://feed.example/Fleet/1"
    login = "none"


class TelematicsUnitFactory(ScopedFactory):
    """A unit that waits to be tied."""

    class Meta:
        model = models.TelematicsUnit

    organisation = factory.SelfAttribute("source.organisation")
    source = factory.SubFactory(TelematicsSourceFactory)
    serial = factory.Sequence(lambda n: f"K-{n:05d}")
    key = factory.LazyAttribute(lambda unit: f"serial {unit.serial}")
    seen_at = datetime(2026, 5, 1, tzinfo=UTC)
