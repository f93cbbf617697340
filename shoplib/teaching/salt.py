"""Seeds that only the holder of a secret can compute.

A class keeps a secret of its own, and the seed of each learner's numbers is computed from it.  Nobody else can make the
answer key from what a sheet or a screen shows: the topic, the number of the set, the name of the learner.
"""

from __future__ import annotations

import hashlib
import hmac

SHORTEST = 16  # characters of a secret


class WeakSecret(ValueError):
    """The secret is too short to keep anybody from trying every one."""


def salted_seed(secret: str, *parts: str | int) -> int:
    """A seed of 63 bits from a secret and from what it is for, such as the assignment and the learner.

    HMAC-SHA256 (RFC 2104, FIPS 198-1).  The length of each part is included: ("ab", "c") and ("a", "bc") differ.
    The same secret and parts always give the same seed.  Raises WeakSecret if the secret has fewer than 16 characters.

    >>> salted_seed("a secret of this class", "coolant", 7) == salted_seed("another secret here", "coolant", 7)
    False
    """
    if len(secret.strip()) < SHORTEST:
        raise WeakSecret(f"the secret of the class needs at least {SHORTEST} characters")
    texts = [str(part).encode() for part in parts]
    message = b"".join(len(text).to_bytes(8, "big") + text for text in texts)
    digest = hmac.new(secret.strip().encode(), message, hashlib.sha256).digest()
    return int.from_bytes(digest[:8], "big") >> 1
