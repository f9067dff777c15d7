"""The fixed cast of the tests: a farm with a person in every role, and a stranger from somewhere else."""

from collections.abc import Iterator
from contextlib import AbstractContextManager
from dataclasses import dataclass
from typing import Any

import pytest
from django.test import Client
from django.utils import timezone
from django_scopes import scope
from rest_framework.test import APIClient

from fleet.models import ApiToken, Attachment, Machine, Member, Organisation, Yard
from fleet.web import confirm as confirmation
from tests.factories import AttachmentFactory, MachineFactory, MemberFactory, OrganisationFactory, YardFactory


@dataclass(frozen=True)
class House:
    """One organisation with a yard and a member in every role."""

    organisation: Organisation
    yard: Yard
    owner: Member
    manager: Member
    technician: Member
    counter: Member

    def scope(self) -> AbstractContextManager[Any]:
        """Open the organisation's scope."""
        return scope(organisation=self.organisation)

    def machine(self, **facts: Any) -> Machine:
        """Make a machine, in the yard unless another is named."""
        return MachineFactory.create(organisation=self.organisation, **({"yard": self.yard} | facts))

    def attachment(self, **facts: Any) -> Attachment:
        """Make an attachment in the yard."""
        return AttachmentFactory.create(organisation=self.organisation, yard=self.yard, **facts)

    def client(self, role: str, *, confirmed: bool = True) -> Client:
        """Return a browser in which the member with that role is signed in, their password just given."""
        client = Client()
        client.force_login(getattr(self, role).user)
        if confirmed:
            confirm(client)
        return client

    def api(self, role: str) -> APIClient:
        """Return an API client with a token of the member with that role."""
        member = getattr(self, role)
        with self.scope():
            _, secret = ApiToken.issue(name=f"{role}'s test token", created_by=member, member=member)
        return bearer(secret)

    def device(self) -> APIClient:
        """Return an API client with a device's token."""
        with self.scope():
            _, secret = ApiToken.issue(name="box", created_by=self.owner)
        return bearer(secret)


def confirm(client: Client) -> None:
    """Note in this browser's session that the password was given just now."""
    session = client.session
    session[confirmation.KEY] = timezone.now().timestamp()
    session.save()


def bearer(secret: str) -> APIClient:
    """Return an API client that sends this token."""
    client = APIClient()
    client.credentials(HTTP_AUTHORIZATION=f"Bearer {secret}")
    return client


def signs_in(name: str, password: str) -> bool:
    """Whether the sign-in page lets somebody in with this name and password."""
    return Client().post("/sign-in/", {"username": name, "password": password}).status_code == 302


def build_house(**organisation: Any) -> House:
    """Make an organisation, its yard and its cast."""
    owned = OrganisationFactory.create(**organisation)
    return House(
        organisation=owned,
        yard=YardFactory.create(organisation=owned),
        **{role: MemberFactory.create(organisation=owned, role=role) for role in Member.Role.values},
    )


@pytest.fixture
def farm(db: None) -> House:
    """The organisation the test is about."""
    return build_house(name="Alder Farm", slug="alder-farm")


@pytest.fixture
def stranger(db: None) -> House:
    """Another organisation, whose members must see nothing of the farm."""
    return build_house(name="Birch Rentals", slug="birch-rentals")


@pytest.fixture
def in_farm(farm: House) -> Iterator[House]:
    """The farm with its scope open, for tests below the views. Tests of views leave it to the middleware."""
    with farm.scope():
        yield farm
