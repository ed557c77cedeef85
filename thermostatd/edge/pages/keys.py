"""Joining codes, device tokens and the owner's passphrase.

Rules: codes are eight random digits (26.6 bits), kept salted and through a slow hash; tokens are 192 random bits, kept
as digests; all compares take the same time whatever differs; the passphrase is checked by argon2id, one at a time.
"""

from __future__ import annotations

import asyncio
import hashlib
import hmac
import secrets

CODE_MINUTES = 10.0
_CODE_DIGITS = 8
_CODE_ROUNDS = 60_000
_LONGEST_PASSPHRASE = 4096  # as much as is read of its file


def new_code() -> str:
    """A joining code: eight digits."""
    return f"{secrets.randbelow(10**_CODE_DIGITS):0{_CODE_DIGITS}d}"


def shown(code: str) -> str:
    """The code in two groups, as people read it aloud: "1234 5678"."""
    return f"{code[:4]} {code[4:]}"


def typed(code: str) -> str:
    """The code as stored, from what someone typed: spaces and hyphens do not count."""
    return "".join(sign for sign in code if sign not in " -\u00a0\u2009").strip()


def new_token() -> str:
    """A device token: 192 random bits, safe in a cookie."""
    return secrets.token_urlsafe(24)


def code_digest(code: str, salt: str = "") -> str:
    """What is stored of a code: a salt and its PBKDF2-HMAC-SHA256 (RFC 8018). A code is short, so a plain digest of it
    could be turned back in no time by who reads a backup."""
    salt = salt or secrets.token_hex(8)
    return f"{salt}${hashlib.pbkdf2_hmac('sha256', code.encode(), salt.encode(), _CODE_ROUNDS).hex()}"


def code_fits(code: str, stored: str) -> bool:
    """Whether that is the code of which `code_digest` was stored, in constant time."""
    return same(code_digest(code, stored.partition("$")[0] or "-"), stored)


def digest_of(secret: str) -> str:
    """What is stored of a token: its SHA-256, in hex. A token is too long to be guessed from that."""
    return hashlib.sha256(secret.encode()).hexdigest()


def same(one: str, other: str) -> bool:
    """Whether two digests are equal, in constant time."""
    return hmac.compare_digest(one.encode(), other.encode())


class Passphrase:
    """The owner's passphrase, kept as an argon2id hash: RFC 9106, with 19 MiB, 2 passes, 1 lane."""

    def __init__(self, passphrase: str) -> None:
        """Refuses fewer than eight characters. Any sign counts, as typed."""
        if len(passphrase) < 8:
            raise ValueError(
                "the owner's passphrase needs eight characters or more: write a longer one in its file"
            )
        from argon2 import PasswordHasher  # only houses with a passphrase need it

        self._hasher = PasswordHasher(time_cost=2, memory_cost=19 * 1024, parallelism=1)
        self._hash = self._hasher.hash(passphrase)
        self._lock = asyncio.Lock()

    async def fits(self, guess: str) -> bool:
        """Whether the guess is right. One check runs at a time, so that guessing cannot eat the memory."""
        async with self._lock:
            return await asyncio.to_thread(self._verify, guess[: _LONGEST_PASSPHRASE + 1])

    def _verify(self, guess: str) -> bool:
        from argon2.exceptions import VerificationError

        try:
            return self._hasher.verify(self._hash, guess)
        except VerificationError:
            return False
