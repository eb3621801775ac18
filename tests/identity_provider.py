"""A small OpenID Connect provider in a process of its own: codes with PKCE, signed tokens, faults on demand.

``python identity_provider.py`` prints its address and serves until it is ended. Everybody who comes is the
person of ``/control``, which also sets what is wrong with the next tokens.
"""

from __future__ import annotations

import base64
import hashlib
import json
import secrets
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from typing import Any
from urllib.parse import parse_qs, urlencode, urlsplit
from urllib.request import urlopen

from joserfc import jwt
from joserfc.jwk import RSAKey

CLIENT, SECRET = "suffice-test", "a secret of both"
HERE = Path(__file__)


class Provider(BaseHTTPRequestHandler):
    """One request; what lasts between them is kept with the class."""

    key = RSAKey.generate_key(2048, {"kid": "one"})
    other_key = RSAKey.generate_key(2048, {"kid": "one"})
    codes: dict[str, dict[str, str]] = {}
    person: dict[str, Any] = {"sub": "subject-1"}
    fault = ""
    ended: list[str] = []

    def log_message(self, *_arguments: object) -> None:
        """Stay quiet."""

    @property
    def issuer(self) -> str:
        host, port = self.server.server_address[:2]
        return f"http://{host!s}:{port}"

    def answer(self, content: object, status: int = 200) -> None:
        body = json.dumps(content).encode()
        self.send_response(status)
        self.send_header("Content-Type", "application/json")
        self.send_header("Content-Length", str(len(body)))
        self.end_headers()
        self.wfile.write(body)

    def do_GET(self) -> None:
        asked = urlsplit(self.path)
        query = {name: values[0] for name, values in parse_qs(asked.query).items()}
        if self.fault == "keys moved" and asked.path == "/keys" and not query:
            self.lead_on()
        elif asked.path == "/.well-known/openid-configuration":
            self.answer(self.metadata())
        elif asked.path == "/keys":
            self.answer({"keys": [self.key.as_dict(private=False)]})
        elif asked.path == "/control":
            type(self).fault = query.get("fault", "")
            type(self).person = json.loads(query.get("person", '{"sub": "subject-1"}'))
            self.answer({"ended": self.ended})
        elif asked.path == "/authorize":
            self.authorize(query)
        elif asked.path == "/end":
            self.end(query)

    def lead_on(self) -> None:
        """Lead a program elsewhere, where it would be answered as it should be."""
        self.send_response(307)
        self.send_header("Location", f"{self.path}?moved=1")
        self.send_header("Content-Length", "0")
        self.end_headers()

    def metadata(self) -> dict[str, object]:
        issuer = "http://elsewhere.example" if self.fault == "metadata" else self.issuer
        ends = {} if self.fault == "no end" else {"end_session_endpoint": f"{self.issuer}/end"}
        if self.fault == "odd end":
            ends = {"end_session_endpoint": "javascript:alert(1)"}
        return ends | {
            "issuer": issuer,
            "authorization_endpoint": f"{self.issuer}/authorize",
            "token_endpoint": f"{self.issuer}/token",
            "jwks_uri": f"{self.issuer}/keys",
            "response_types_supported": ["code"],
            "subject_types_supported": ["public"],
            "id_token_signing_alg_values_supported": ["RS256", "HS256", "none"],
        }

    def authorize(self, query: dict[str, str]) -> None:
        if query.get("code_challenge_method") != "S256" or query.get("client_id") != CLIENT:
            self.answer({"error": "invalid_request"}, 400)
            return
        code = secrets.token_urlsafe(16)
        self.codes[code] = query
        back = {"code": code, "state": query["state"], "iss": self.issuer}
        if self.fault == "denied":
            back = {"error": "access_denied", "state": query["state"]}
        if self.fault == "mix-up":
            back["iss"] = "http://elsewhere.example"
        self.send_response(302)
        self.send_header("Location", f"{query['redirect_uri']}?{urlencode(back)}")
        self.end_headers()

    def end(self, query: dict[str, str]) -> None:
        """End the session of whom a token of ours is about, and lead back to the client's own page."""
        told = jwt.decode(query["id_token_hint"], self.key).claims
        back = query["post_logout_redirect_uri"]
        is_own = told["aud"] == query["client_id"] == CLIENT and back.endswith("/sign-in/")
        if not is_own or told["iss"] != self.issuer:
            self.answer({"error": "invalid_request"}, 400)
            return
        type(self).ended = [*self.ended, told["sub"]]
        self.send_response(302)
        self.send_header("Location", back)
        self.end_headers()

    def do_POST(self) -> None:
        """The token: for a code once, with the client's secret and the verifier of its challenge."""
        length = int(self.headers.get("Content-Length", "0"))
        sent = {
            name: values[0] for name, values in parse_qs(self.rfile.read(length).decode()).items()
        }
        if self.fault == "token moved" and "?" not in self.path:
            self.lead_on()
            return
        wanted = base64.b64encode(f"{CLIENT}:{SECRET.replace(' ', '+')}".encode()).decode()
        plain = base64.b64encode(f"{CLIENT}:{SECRET}".encode()).decode()
        given = self.headers.get("Authorization", "").removeprefix("Basic ")
        asked = self.codes.pop(sent.get("code", ""), None)
        digest = hashlib.sha256(sent.get("code_verifier", "").encode()).digest()
        challenge = base64.urlsafe_b64encode(digest).rstrip(b"=").decode()
        if asked is None or given not in {wanted, plain} or asked["code_challenge"] != challenge:
            self.answer({"error": "invalid_grant"}, 400)
            return
        self.answer({"access_token": "x", "token_type": "Bearer", "id_token": self.token(asked)})

    def signed_in(self, asked: dict[str, str], now: int) -> dict[str, int]:
        """When the person gave a passphrase here: now where the client asks for that, else an hour ago."""
        if "max_age" not in asked or self.fault == "silent":
            return {}
        is_anew = asked["max_age"] == "0" and asked.get("prompt") == "login"
        return {"auth_time": now if is_anew and self.fault != "long ago" else now - 3600}

    def token(self, asked: dict[str, str]) -> str:
        now = int(time.time())
        claims = {
            "iss": self.issuer,
            "aud": CLIENT,
            "iat": now,
            "exp": now + 300,
            "nonce": asked.get("nonce", ""),
            **self.signed_in(asked, now),
            **self.person,
        }
        wrong = {
            "nonce": {"nonce": "another"},
            "issuer": {"iss": "http://elsewhere.example"},
            "audience": {"aud": "another", "azp": CLIENT},
            "expired": {"iat": now - 900, "exp": now - 600},
        }
        claims |= wrong.get(self.fault, {})
        if self.fault.startswith("without "):
            claims.pop(self.fault.removeprefix("without "))
        if self.fault == "unsigned":
            head = base64.urlsafe_b64encode(b'{"alg":"none"}').rstrip(b"=")
            body = base64.urlsafe_b64encode(json.dumps(claims).encode()).rstrip(b"=")
            return f"{head.decode()}.{body.decode()}."
        key = self.other_key if self.fault == "key" else self.key
        return jwt.encode({"alg": "RS256", "kid": "one"}, claims, key)


class Started:
    """A provider that runs; `issuer` is its address."""

    def __init__(self, issuer: str) -> None:
        self.issuer = issuer

    def control(self, fault: str = "", **person: object) -> list[str]:
        """Set what is wrong with the next tokens, and who comes; gives whose sessions it has ended."""
        asked = {"fault": fault, "person": json.dumps({"sub": "subject-1"} | person)}
        with urlopen(f"{self.issuer}/control?{urlencode(asked)}", timeout=30) as answer:
            return list(json.load(answer)["ended"])


@contextmanager
def started() -> Iterator[Started]:
    """A provider in a process of its own, for the length of the block."""
    with subprocess.Popen([sys.executable, HERE], stdout=subprocess.PIPE, text=True) as process:
        try:
            assert process.stdout is not None
            yield Started(process.stdout.readline().strip())
        finally:
            process.terminate()


if __name__ == "__main__":
    server = ThreadingHTTPServer(("127.0.0.1", 0), Provider)
    print(f"http://127.0.0.1:{server.server_address[1]}", flush=True)
    server.serve_forever()
