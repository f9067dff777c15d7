"""Whose a typed name is, and what it is counted under."""

import unicodedata

from django.db.models import BooleanField, ExpressionWrapper, Q
from django.utils.crypto import salted_hmac

from fleet.models import User

PREFIX = "name:"
LONGEST = 254  # characters of a mail address (RFC 5321, 4.5.3.1.3)


def account_name(typed: str) -> str | None:
    """Return the name of the account that a typed name or mail address means; None where it means none.

    Capitals don't count. A name goes before an address; an address is good where just one active account has
    it. One query, whatever was typed, so that the time it takes tells nothing.
    """
    said = typed[:LONGEST].replace("\0", "").strip()
    if not said:
        return None
    named = ExpressionWrapper(Q(username__iexact=said), output_field=BooleanField())
    found = User.objects.filter(Q(username__iexact=said) | Q(email__iexact=said)).annotate(named=named)
    by_name, by_mail = [], []
    for name, active, is_name in found.values_list("username", "is_active", "named"):
        if is_name:
            by_name.append(name)
        elif active:
            by_mail.append(name)
    if by_name:
        return by_name[0]
    return by_mail[0] if len(by_mail) == 1 else None


def key_of(name: str) -> str:
    """Return the key of a name: the same however it is capitalised and whichever Unicode form it is typed in.

    A keyed hash, because people type passwords where the name belongs, and names that nobody has are counted
    too. Case folding and normal forms as in the Unicode Standard, 3.13 (toNFKC_Casefold, D146).
    """
    folded = unicodedata.normalize("NFKC", unicodedata.normalize("NFKC", name).casefold()).strip()
    return PREFIX + salted_hmac("fleet.sign_in.names", folded, algorithm="sha256").hexdigest()
