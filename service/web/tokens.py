"""Signing what a client carries for us, so that it comes back as it went out.

A token is `payload.signature`: the payload in base64 for URLs without padding, and an HMAC-SHA-256 over it. Nothing in
it is secret, and nothing in it expires: the same payload under the same key is the same token, which keeps a repeated
request's answer the same byte for byte. An old token can always be shown again; it harms only its own cook.
"""

import base64
import binascii
import hmac
from collections.abc import Sequence
from functools import lru_cache

from itsdangerous import BadSignature, Signer
from itsdangerous.signer import SigningAlgorithm


class TokenError(ValueError):
    """A token that we did not write, or no longer take; says why.

    Attributes:
        kind: `too-long` or `altered`; a key that is retired cannot be told from an alteration.
    """

    def __init__(self, kind: str, says: str) -> None:
        super().__init__(says)
        self.kind = kind


class Tokens:
    """Seals payloads with the newest of its keys and opens what any of them has sealed."""

    def __init__(self, keys: Sequence[bytes], *, purpose: str, longest: int) -> None:
        """Keys oldest to newest. Tokens of another purpose do not open; nor do any over `longest` characters."""
        derived = [hmac.digest(key, purpose.encode(), "sha256") for key in keys]
        self._signer = Signer(derived, key_derivation="none", algorithm=_HmacSha256())
        self.longest = longest

    def seal(self, payload: bytes) -> str:
        """The token for this payload. It may be longer than `longest`: whoever hands it out has to look."""
        return self._signer.sign(_text(payload)).decode("ascii")

    def open(self, token: str) -> bytes:
        """The payload of a token. Raises TokenError."""
        if len(token) > self.longest:
            raise TokenError(
                "too-long", f"it has {len(token)} characters; none that was handed out has over {self.longest}"
            )
        try:
            text = self._signer.unsign(token.encode("ascii"))
            payload = base64.urlsafe_b64decode(text + b"=" * (-len(text) % 4))
        except (UnicodeEncodeError, BadSignature, binascii.Error) as error:
            raise TokenError("altered", "it was altered, or its key is retired") from error
        # Base64 can spell the same signature in several ways; only ours is taken.
        signature = token.rpartition(".")[2].encode("ascii")
        if signature != _text(base64.urlsafe_b64decode(signature + b"=" * (-len(signature) % 4))):
            raise TokenError("altered", "it was altered")
        return payload


class _HmacSha256(SigningAlgorithm):
    """HMAC (RFC 2104) from a beginning that is worked out once for each key."""

    def get_signature(self, key: bytes, value: bytes) -> bytes:
        begun = _begun(key).copy()
        begun.update(value)
        return begun.digest()


@lru_cache(maxsize=16)
def _begun(key: bytes) -> hmac.HMAC:
    return hmac.new(key, digestmod="sha256")


def _text(payload: bytes) -> bytes:
    return base64.urlsafe_b64encode(payload).rstrip(b"=")
