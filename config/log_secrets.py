"""One-time links are keys: whatever is logged of an address that holds one, is logged without it."""

import logging
import re

KEYS = re.compile(r"/(welcome|join)/[^\s\"'<>?#]+")


def without_secrets(text: str) -> str:
    """Return a text with the keys of one-time links struck out."""
    return KEYS.sub(r"/\1/...", text)


class WithoutSecrets(logging.Filter):
    """Strikes them out of each line; for the handlers, so that it holds for every logger."""

    def filter(self, record: logging.LogRecord) -> bool:
        record.msg, record.args = without_secrets(record.getMessage()), None
        return True
