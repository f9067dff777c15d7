"""Print the JSON Schema of program files."""

import json
from typing import Any

from django.core.management.base import BaseCommand

from servicing.programs.file_format.json_schema import program_schema


class Command(BaseCommand):
    help = "Print the JSON Schema of service programmes, for editors; see fixtures/programs/README.md."

    def handle(self, *args: Any, **options: Any) -> None:
        self.stdout.write(json.dumps(program_schema(), indent=1, ensure_ascii=False))
