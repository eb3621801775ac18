"""A proxy with HTTPS, as a clinic has one in front: it ends the encryption and says for whom it asks.

It passes on what docs/deployment.md has Caddy and nginx pass on: Host as it came, X-Forwarded-For
with the client's address at its end, X-Forwarded-Proto. Its certificate is made for the occasion and
signed by itself.
"""

from __future__ import annotations

import asyncio
import ssl
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from datetime import UTC, datetime, timedelta
from ipaddress import ip_address
from pathlib import Path
from threading import Event, Thread

from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import NameOID

HEAD_END = b"\r\n\r\n"
OWN = (b"x-forwarded-for:", b"x-forwarded-proto:", b"connection:")
"""Headers of a request in whose place the proxy puts its own."""


def certificate(folder: Path) -> Path:
    """A certificate for localhost with its key, in one file; good for an hour."""
    key = ec.generate_private_key(ec.SECP256R1())
    name = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, "localhost")])
    now = datetime.now(UTC)
    alternatives = [x509.DNSName("localhost"), x509.IPAddress(ip_address("127.0.0.1"))]
    made = (
        x509.CertificateBuilder()
        .subject_name(name)
        .issuer_name(name)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - timedelta(hours=1))
        .not_valid_after(now + timedelta(hours=1))
        .add_extension(x509.SubjectAlternativeName(alternatives), critical=False)
        .sign(key, hashes.SHA256())
    )
    path = folder / "certificate.pem"
    private = key.private_bytes(
        serialization.Encoding.PEM,
        serialization.PrivateFormat.PKCS8,
        serialization.NoEncryption(),
    )
    path.write_bytes(private + made.public_bytes(serialization.Encoding.PEM))
    return path


class Proxy:
    """Passes each request on to a port of this computer, one connection for each."""

    def __init__(self, backend: int) -> None:
        self.backend = backend

    async def pass_on(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        """One connection of a browser; it is closed after one answer."""
        with suppress(OSError, asyncio.IncompleteReadError):
            head = await reader.readuntil(HEAD_END)
            server_reader, server_writer = await asyncio.open_connection("127.0.0.1", self.backend)
            server_writer.write(self._head(head, str(writer.get_extra_info("peername")[0])))
            sending = asyncio.create_task(_pump(reader, server_writer))
            await _pump(server_reader, writer)
            sending.cancel()
            server_writer.close()
        writer.close()

    def _head(self, head: bytes, client: str) -> bytes:
        lines = head.removesuffix(HEAD_END).split(b"\r\n")
        kept = [line for line in lines if not line.lower().startswith(OWN)]
        said = [
            line.partition(b":")[2].strip()
            for line in lines
            if line.lower().startswith(b"x-forwarded-for:")
        ]
        forwarded = b", ".join([*said, client.encode()])
        own = [b"X-Forwarded-For: " + forwarded, b"X-Forwarded-Proto: https", b"Connection: close"]
        return b"\r\n".join([*kept, *own]) + HEAD_END


async def _pump(reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
    with suppress(OSError):
        while got := await reader.read(65536):
            writer.write(got)
            await writer.drain()


@contextmanager
def in_front_of(backend: int, folder: Path) -> Iterator[int]:
    """The port of a proxy in front of a server, for the length of the block."""
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    context.load_cert_chain(certificate(folder))
    ports: list[int] = []
    ready, loop = Event(), asyncio.new_event_loop()

    async def listen() -> None:
        server = await asyncio.start_server(
            Proxy(backend).pass_on, "127.0.0.1", 0, ssl=context, limit=2**20
        )
        ports.append(server.sockets[0].getsockname()[1])
        ready.set()

    def serve() -> None:
        asyncio.set_event_loop(loop)
        loop.run_until_complete(listen())
        loop.run_forever()
        for task in asyncio.all_tasks(loop):
            task.cancel()
        loop.run_until_complete(asyncio.sleep(0))
        loop.close()

    thread = Thread(target=serve, daemon=True)
    thread.start()
    ready.wait()
    try:
        yield ports[0]
    finally:
        loop.call_soon_threadsafe(loop.stop)
        thread.join()
