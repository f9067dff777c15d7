"""`manage.py tokens SLUG list|make|rotate|end`: the tokens of an organisation's devices."""

import argparse
from collections.abc import Sequence
from datetime import datetime
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django_scopes import scope

from fleet.accounts import api_tokens
from fleet.core.errors import FleetError
from fleet.management.acting_member import acting_member
from fleet.models import ApiToken, Machine, Member, Organisation, Yard
from fleet.readings.submission import Unreadable, read_moment


class Command(BaseCommand):
    help = "Make, rotate, end and list the tokens of devices. A new secret is printed once only."

    def add_arguments(self, parser: argparse.ArgumentParser) -> None:
        parser.add_argument("organisation", metavar="SLUG")
        parser.add_argument(
            "--as",
            dest="by",
            metavar="MAIL",
            help="the owner or manager who is noted as having made it (default: the first owner)",
        )
        steps = parser.add_subparsers(dest="step", required=True)
        steps.add_parser("list", help="show each token, when it was last used and what it may send for")
        make = steps.add_parser("make", help="make a token and print its secret")
        make.add_argument("name")
        make.add_argument("--machine", action="append", default=[], metavar="TAG", help="only for this one")
        make.add_argument(
            "--yard", action="append", default=[], metavar="NAME", help="only for machines here"
        )
        rotate = steps.add_parser("rotate", help="give a token a new secret and print it")
        rotate.add_argument("name")
        rotate.add_argument(
            "--old-until",
            metavar="TIME",
            help="until when the old one is good, like 2026-05-03T14:30:00+02:00 (default: it ends at once)",
        )
        steps.add_parser("end", help="end a token at once").add_argument("name")

    def handle(self, *args: Any, organisation: str, by: str | None, step: str, **options: Any) -> None:
        owned = Organisation.objects.filter(slug=organisation).first()
        if owned is None:
            raise CommandError(f"There is no organisation {organisation!r}.")
        with scope(organisation=owned):
            try:
                getattr(self, f"_{step}")(owned, acting_member(owned, by), options)
            except FleetError as error:
                raise CommandError(error.sentence) from error

    def _list(self, organisation: Organisation, member: Member, options: dict[str, Any]) -> None:
        for token in _devices(organisation).prefetch_related("machines", "yards"):
            used = f"used {token.last_used_at:%Y-%m-%d %H:%M} UTC" if token.last_used_at else "never used"
            limits = [*map(str, token.machines.all()), *(f"yard {yard}" for yard in token.yards.all())]
            reach = ", ".join(limits) or ("nothing any more" if token.limited else "all machines")
            ended = f"; ended {token.revoked_at:%Y-%m-%d %H:%M} UTC" if token.revoked_at else ""
            self.stdout.write(f"{token.name} ({token.prefix}...): {used}; {reach}{ended}")

    def _make(self, organisation: Organisation, member: Member, options: dict[str, Any]) -> None:
        _, secret = api_tokens.issue(
            name=options["name"],
            member=member,
            device=True,
            machines=_machines(organisation, options["machine"]),
            yards=[_yard(organisation, name) for name in options["yard"]],
        )
        self.stdout.write(secret)

    def _rotate(self, organisation: Organisation, member: Member, options: dict[str, Any]) -> None:
        token = _token(organisation, options["name"])
        self.stdout.write(
            api_tokens.rotate(token=token, member=member, old_until=_moment(options["old_until"]))
        )

    def _end(self, organisation: Organisation, member: Member, options: dict[str, Any]) -> None:
        token = _token(organisation, options["name"])
        api_tokens.revoke(token=token, member=member)
        self.stdout.write(f"{token} is ended.")


def _devices(organisation: Organisation) -> Any:
    return ApiToken.objects.filter(organisation=organisation, member=None).order_by("name", "pk")


def _token(organisation: Organisation, name: str) -> ApiToken:
    token = _devices(organisation).live().filter(name=name).first()
    if token is None:
        raise CommandError(f"No device's token in use has the name {name!r}.")
    return token


def _machines(organisation: Organisation, tags: Sequence[str]) -> list[Machine]:
    machines = []
    for tag in tags:
        machine = Machine.objects.metered().filter(organisation=organisation).called(tag)
        if machine is None:
            raise CommandError(f"No machine has the fleet number {tag}.")
        machines.append(machine)
    return machines


def _yard(organisation: Organisation, name: str) -> Yard:
    yard = Yard.objects.filter(organisation=organisation, name__iexact=name).first()
    if yard is None:
        raise CommandError(f"No yard is called {name}.")
    return yard


def _moment(text: str | None) -> datetime | None:
    try:
        return read_moment(text) if text else None
    except Unreadable as error:
        raise CommandError(error.reason) from None
