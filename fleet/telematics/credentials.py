"""Logins of sources, kept encrypted (Fernet: AES-128-CBC with HMAC-SHA256).

The first of the installation's keys encrypts, all of them decrypt; see `manage.py renew_logins`.
"""

from cryptography.fernet import InvalidToken, MultiFernet
from django.conf import settings
from django.utils.translation import gettext_lazy as _

from fleet.core.errors import FleetError

NO_KEY = _("There is no key to encrypt logins with. The operator must set HOURMARK_CREDENTIAL_KEYS first.")
LOST = _("The login can't be decrypted with this installation's keys. Enter it again.")


def lock(secret: str) -> str:
    """Return the secret encrypted. Raises FleetError on `secret` when the installation has no key."""
    return _keys().encrypt(secret.encode()).decode() if secret else ""


def unlock(kept: str) -> str:
    """Return the secret. Raises FleetError when no key fits."""
    if not kept:
        return ""
    try:
        return _keys().decrypt(kept.encode()).decode()
    except InvalidToken:
        raise FleetError(str(LOST)) from None


def renew(kept: str) -> str:
    """Return the same secret under the first key. Raises FleetError when no key fits."""
    try:
        return _keys().rotate(kept.encode()).decode() if kept else ""
    except InvalidToken:
        raise FleetError(str(LOST)) from None


def _keys() -> MultiFernet:
    if not settings.CREDENTIAL_KEYS:
        raise FleetError(str(NO_KEY), field="secret")
    return MultiFernet(settings.CREDENTIAL_KEYS)
