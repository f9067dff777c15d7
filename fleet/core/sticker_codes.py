"""The code on a machine's sticker: short, written by a printer, read by a phone or typed by a thumb.

Eight of Crockford's 32 characters (Douglas Crockford, "Base 32", crockford.com/base32.html): digits and
capitals without I, L, O and U, so that what was read wrongly can be read rightly: o is 0, i and l are 1. That
is 40 random bits. A code opens nothing by itself, the page asks for a sign-in; but it tells neither how many
machines there are nor which is next, and a lost sticker's code can be renewed without touching the machine.
"""

import secrets

ALPHABET = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"
LENGTH = 8
READ_AS = str.maketrans("OIL", "011", "- ")


def new_code() -> str:
    """Return a code that nobody can foresee."""
    return "".join(secrets.choice(ALPHABET) for _ in range(LENGTH))


def read_code(typed: str) -> str:
    """Return what was typed or scanned, written as codes are kept; there may be no such code."""
    return typed.strip().upper().translate(READ_AS)
