"""What a typed name is counted under."""

import unicodedata

from django.utils.crypto import salted_hmac

PREFIX = "name:"


def key_of(name: str) -> str:
    """Return the key of a name: the same however it is capitalised and whichever Unicode form it is typed in.

    A keyed hash, because people type passwords where the name belongs, and names that nobody has are counted
    too. Case folding and normal forms as in the Unicode Standard, 3.13 (toNFKC_Casefold, D146).
    """
    folded = unicodedata.normalize("NFKC", unicodedata.normalize("NFKC", name).casefold()).strip()
    return PREFIX + salted_hmac("fleet.sign_in.names", folded, algorithm="sha256").hexdigest()
