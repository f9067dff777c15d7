"""Begin a new organisation with its first yard and its owner."""

from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.urls import reverse

from fleet.accounts import members, organisations
from fleet.core.errors import FleetError
from fleet.models import Organisation


class Command(BaseCommand):
    help = "Start an organisation. Prints the one-time link with which its owner chooses a password."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("slug")
        parser.add_argument("--name", required=True)
        parser.add_argument(
            "--owner", required=True, metavar="MAIL", help="Mail address the owner signs in with."
        )
        parser.add_argument("--owner-name", required=True, metavar="NAME", help="Name mails greet them by.")
        parser.add_argument("--zone", default="UTC", help="IANA time zone, like Europe/Dublin.")
        parser.add_argument("--currency", default="EUR")
        parser.add_argument("--units", choices=Organisation.Units.values, default=Organisation.Units.METRIC)
        parser.add_argument("--yard", default=organisations.FIRST_YARD)

    def handle(self, *args: Any, owner: str, owner_name: str, yard: str, **options: Any) -> None:
        fields = {key: options[key] for key in ("slug", "name", "zone", "currency", "units")}
        organisation = Organisation(**fields)
        try:
            member = organisations.start(
                organisation=organisation, owner_mail=owner, owner_name=owner_name, yard_name=yard
            )
        except FleetError as error:
            raise CommandError(error.sentence) from error
        link = members.invite(user=member.user)
        self.stdout.write(f"{organisation} is ready. {owner_name} chooses a password here, once:")
        self.stdout.write(settings.SITE_URL + reverse("welcome", args=[link.uid, link.secret]))
