"""A container engine that runs nothing: it takes what compose asks of it, says that it is done, and keeps what was asked."""

import io
import json
import re
import tarfile
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from typing import Any
from urllib.parse import parse_qs, urlsplit


@dataclass(slots=True)
class Engine:
    """What was asked of it.

    Attributes:
        address: where it listens.
        networks: what each is to be, by name.
        containers: what each is to be, by name, in the order in which they were made.
        started: those that were started, in order.
        sent: names of the files that an image was to be built from.
        built: the image that was to be built.
    """

    address: str = ""
    networks: dict[str, Any] = field(default_factory=dict)
    containers: dict[str, Any] = field(default_factory=dict)
    started: list[str] = field(default_factory=list)
    sent: list[str] = field(default_factory=list)
    built: str = ""

    def answer(self, method: str, path: str, query: dict[str, list[str]], body: bytes) -> tuple[int, Any]:
        """Status and document; of the engine's interface it knows what compose needs to bring services up."""
        match [method, *path.strip("/").split("/")]:
            case ["GET", "version"]:
                return 200, {"Version": "20.10", "ApiVersion": "1.41", "MinAPIVersion": "1.12"}
            case ["GET", "info"]:
                return 200, {"Swarm": {"LocalNodeState": "inactive"}}
            case ["POST", "networks", "create"]:
                asked = json.loads(body)
                self.networks[asked["Name"]] = {
                    **asked,
                    "Id": asked["Name"],
                    "Driver": "bridge",
                    "IPAM": {"Config": []},
                }
                return 201, {"Id": asked["Name"]}
            case ["GET", "networks", name]:
                return (200, self.networks[name]) if name in self.networks else (404, {"message": "no such network"})
            case ["POST", "networks", _, "connect" | "disconnect"]:
                return 200, None
            case ["POST", "build"]:
                with tarfile.open(fileobj=io.BytesIO(body)) as context:
                    self.sent = [member.name for member in context if member.isfile()]
                (self.built,) = query["t"]
                return 200, {"stream": "Successfully built 0\n"}
            case ["GET", "images", *_, "json"]:
                return 200, {"Id": "sha256:0", "Config": {}}
            case ["GET", "containers", "json"]:
                return 200, []
            case ["POST", "containers", "create"]:
                (name,) = query["name"]
                self.containers[name] = json.loads(body)
                return 201, {"Id": name}
            case ["POST", "containers", name, "start"]:
                self.started.append(name)
                return 204, None
            case ["GET", "containers", name, "json"]:
                return 200, self._described(name)
        return 404, {"message": f"this engine does not know {method} {path}"}

    def _described(self, name: str) -> dict[str, Any]:
        asked = self.containers[name]
        return {
            "Id": name,
            "Name": f"/{name}",
            "Image": "sha256:0",
            "Config": asked,
            "HostConfig": asked["HostConfig"],
            "State": {"Running": name in self.started, "Status": "running"},
            "NetworkSettings": {"Networks": asked["NetworkingConfig"]["EndpointsConfig"]},
            "Mounts": [],
        }


@contextmanager
def listening() -> Iterator[Engine]:
    """An engine at a port of this machine."""
    engine = Engine()

    class Handler(BaseHTTPRequestHandler):
        protocol_version = "HTTP/1.1"

        def _answer(self) -> None:
            asked = urlsplit(re.sub(r"^/v[\d.]+(?=/)", "", self.path))
            status, document = engine.answer(self.command, asked.path, parse_qs(asked.query), self._body())
            text = b"" if document is None else json.dumps(document).encode()
            self.send_response(status)
            self.send_header("Content-Type", "application/json")
            self.send_header("Content-Length", str(len(text)))
            self.end_headers()
            self.wfile.write(text)

        do_GET = do_POST = _answer  # noqa: N815 (the names that the library calls)

        def _body(self) -> bytes:
            if self.headers.get("Transfer-Encoding") != "chunked":
                return self.rfile.read(int(self.headers.get("Content-Length") or 0))
            chunks = []
            while length := int(self.rfile.readline(), 16):
                chunks.append(self.rfile.read(length))
                self.rfile.readline()
            self.rfile.readline()
            return b"".join(chunks)

        def log_message(self, *_: Any) -> None:
            """Says nothing."""

    with ThreadingHTTPServer(("127.0.0.1", 0), Handler) as server:
        engine.address = f"tcp://127.0.0.1:{server.server_port}"
        threading.Thread(target=server.serve_forever).start()
        try:
            yield engine
        finally:
            server.shutdown()
