"""A canary: markup in every text that people type, so that a page which doesn't escape it is found out."""

from collections.abc import Callable
from contextlib import suppress
from html.parser import HTMLParser
from typing import Any

from django.db import IntegrityError, models, transaction
from django.db.models import QuerySet
from django_scopes import scopes_disabled

from fleet.models import Organisation, User
from fleet.models.base import OrganisationOwned
from tests.doors.snapshot import models as our_models

# It breaks out of text and of an attribute, quoted or not; no page of ours has an element `q`.
CANARY = """x canary '"><q canary>"""
SHORT = "<q>"
ESCAPED = "&lt;q canary&gt;"
TEXTS = (models.CharField, models.TextField)

# What nobody types: made by us, or refused unless it is one of few words or of a form without markup.
NOT_TYPED = {
    "ApiToken": {"prefix", "digest", "old_prefix", "old_digest"},
    "KeptAnswer": {"fingerprint"},
    "User": {"password"},
    "Organisation": {"slug", "zone"},
    "Yard": {"zone"},
    "Fitment": {"code"},
    "Machine": {"code"},
    "Attachment": {"code"},
    "Reading": {"code", "sender"},
    "TelematicsSource": {"secret"},
    "TelematicsUnit": {"receipt"},
    "ServiceProgram": {"code"},
    "Task": {"code", "place"},
    "Check": {"code", "unit"},
    "CheckResult": {"unit", "found_unit", "left_unit"},
    "SafetyFailure": {"unit", "found_unit", "left_unit"},
    "LetIn": {"key"},
    "TaskOverride": {"task_code"},
    "ToldFact": {"key", "fingerprint"},
}
# Texts within JSON, each made from what stands there.
IN_JSON: dict[str, dict[str, Callable[[Any], Any]]] = {
    "Task": {
        "opens": lambda kept: [CANARY],
        "prepare": lambda kept: [CANARY],
        "steps": lambda kept: [CANARY],
    },
    "Check": {"steps": lambda kept: [CANARY], "choices": lambda kept: words(kept)},
    "CheckResult": {"choices": lambda kept: words(kept)},
    "RejectedRow": {"cells": lambda kept: [CANARY for _ in kept]},
    "ServiceProgram": {"round": lambda kept: kept},  # slugs
    "SentFile": {
        "plan": lambda kept: kept,  # which column is which
        "sample": lambda kept: [[line, [CANARY for _ in cells]] for line, cells, *_ in kept],
        "firsts": lambda kept: [[line, [CANARY for _ in cells]] for line, cells, *_ in kept],
    },
    "TelematicsUnit": {
        "known": lambda kept: dict.fromkeys(("pin", "serial", "equipment_id", "maker", "model"), CANARY),
        "other_hours": lambda kept: [CANARY],
    },
    "Amendment": {"before": lambda kept: said(kept)},
    "RefusedEntries": {"problems": lambda kept: [{"at": CANARY, "why": CANARY}]},
    "SafetyFailure": {"choices": lambda kept: words(kept)},
    "SentProgram": {"faults": lambda kept: [CANARY]},
}


def words(choices: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """The words of a check, with the canary in each."""
    return [{**word, "value": f"{CANARY}{number}"} for number, word in enumerate(choices)]


def said(kept: Any, name: str = "") -> Any:
    """What an order said, with the canary where people's words stand in it."""
    if isinstance(kept, dict):
        return {key: said(each, key) for key, each in kept.items()}
    if isinstance(kept, list):
        return [said(each) for each in kept]
    return CANARY if name in SAID else kept


SAID = {"title", "reason", "note", "label", "as_found", "as_left", "recorded_by", "name"}


def plant(organisation: Organisation) -> set[str]:
    """Write the canary into every typed text of an organisation; return the columns it is in."""
    planted = set()
    with scopes_disabled():
        for model in our_models():
            for row in _of(model, organisation):
                for name, text in _planted(row).items():
                    # a row in another state may hold this text, as a reason stands only where something ended
                    with suppress(IntegrityError), transaction.atomic():
                        model._base_manager.filter(pk=row.pk).update(**{name: text})
                        planted.add(f"{model.__name__}.{name}")
    return planted


def typed(model: Any) -> set[str]:
    """The names of the columns of a model that hold what people type."""
    return (
        {
            field.name
            for field in model._meta.concrete_fields
            if isinstance(field, (*TEXTS, models.JSONField)) and not field.choices
        }
        - NOT_TYPED.get(model.__name__, set())
        - {field.name for field in model._meta.concrete_fields if isinstance(field, models.FileField)}
    )


def _of(model: Any, organisation: Organisation) -> QuerySet:
    rows = model._base_manager.all()
    if model is Organisation:
        return rows.filter(pk=organisation.pk)
    if model is User:
        return rows.filter(memberships__organisation=organisation)
    return rows.filter(organisation=organisation) if issubclass(model, OrganisationOwned) else rows.none()


def _planted(row: Any) -> dict[str, Any]:
    name = type(row).__name__
    texts = {}
    for field in row._meta.concrete_fields:
        if field.name not in typed(type(row)):
            continue
        if isinstance(field, models.JSONField):
            kept = getattr(row, field.name)
            texts[field.name] = IN_JSON[name][field.name](kept) if name in IN_JSON else kept
        else:
            texts[field.name] = _fitting(f"{CANARY}{row.pk}", field.max_length)
    return texts


def _fitting(text: str, most: int | None) -> str:
    if most is None or len(text) <= most:
        return text
    return f"<q {text.rpartition('>')[2]}>"[:most] if most > len(SHORT) + 2 else SHORT[:most]


class Page(HTMLParser):
    """Reads a page as a browser does and counts where a canary got out."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.out: list[str] = []
        self.feed(text)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if tag == "q" or any(name.strip("'\"").startswith("canary") for name, _ in attrs):
            self.out.append(self.get_starttag_text() or tag)


def got_out(text: str) -> list[str]:
    """The tags of a page that a canary made or got into."""
    return Page(text).out
