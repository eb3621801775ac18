"""An authenticator for tests: makes passkeys and signs with them, as a device of a person would."""

from __future__ import annotations

import json
import secrets
from base64 import urlsafe_b64decode, urlsafe_b64encode
from hashlib import sha256
from typing import Any

from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.hazmat.primitives.hashes import SHA256
from fido2.cose import ES256
from fido2.webauthn import AttestationObject, AttestedCredentialData, AuthenticatorData

PRESENT, VERIFIED, ATTESTED = 0x01, 0x04, 0x40


def text(content: bytes) -> str:
    return urlsafe_b64encode(content).rstrip(b"=").decode()


def read(written: str) -> bytes:
    return urlsafe_b64decode(written + "=" * (-len(written) % 4))


class SoftKey:
    """One key for one host; `count` is what it counted last, `flags` what it says of its person."""

    def __init__(self, host: str = "testserver", origin: str = "http://testserver") -> None:
        self.host, self.origin = host, origin
        self.id = secrets.token_bytes(32)
        self.count = 0
        self.flags = PRESENT | VERIFIED
        self._key = ec.generate_private_key(ec.SECP256R1())

    def _client(self, kind: str, asked: str) -> bytes:
        said = {"type": kind, "challenge": json.loads(asked)["challenge"], "origin": self.origin}
        return json.dumps(said | {"crossOrigin": False}).encode()

    def _answer(self, client: bytes, **rest: bytes) -> str:
        response: dict[str, Any] = {name: text(value) for name, value in rest.items()}
        response["clientDataJSON"] = text(client)
        given = {"id": text(self.id), "rawId": text(self.id), "type": "public-key"}
        return json.dumps(given | {"response": response, "clientExtensionResults": {}})

    def _host(self) -> bytes:
        return sha256(self.host.encode()).digest()

    def made(self, asked: str) -> str:
        """What it answers when it is asked for a new key."""
        self.count += 1
        public = ES256.from_cryptography_key(self._key.public_key())
        credential = AttestedCredentialData.create(b"\0" * 16, self.id, public)
        data = AuthenticatorData.create(
            self._host(), self.flags | ATTESTED, self.count, credential_data=credential
        )
        attested = AttestationObject.create("none", data, {})
        return self._answer(
            self._client("webauthn.create", asked), attestationObject=bytes(attested)
        )

    def signed(self, asked: str) -> str:
        """What it answers when it is asked to sign."""
        self.count += 1
        data = AuthenticatorData.create(self._host(), self.flags, self.count)
        client = self._client("webauthn.get", asked)
        signature = self._key.sign(bytes(data) + sha256(client).digest(), ec.ECDSA(SHA256()))
        return self._answer(client, authenticatorData=bytes(data), signature=signature)
