"""The shipped front: nginx with the files of deploy/nginx, on a free port, before servers of this machine."""

import shutil
import ssl
import subprocess
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory

from tests.deploy.processes import LOOPBACK, ROOT, START_S, answers, until
from tests.ports import free_port

SHIPPED = ROOT / "deploy" / "nginx"
HOST = "cookstop.example"
NGINX = shutil.which("nginx", path="/usr/sbin:/usr/bin:/usr/local/sbin:/usr/local/bin")


@dataclass(frozen=True, slots=True, kw_only=True)
class Front:
    """A front that answers, and the folder that it runs in."""

    port: int
    folder: Path

    def trusting(self) -> ssl.SSLContext:
        """What a client needs to take its certificate."""
        return ssl.create_default_context(cafile=str(self.folder / "tls" / "tls.crt"))

    def access_log(self) -> list[str]:
        """A line for each request so far."""
        return (self.folder / "out").read_text(encoding="utf-8").splitlines()


@contextmanager
def folder_of_front(ports: Sequence[int], *, listen_port: int | None = None, metered: bool = True) -> Iterator[Path]:
    """A copy of the shipped files, with a certificate, and these ports of this machine in the place of the servers."""
    with TemporaryDirectory(prefix="front-") as name:
        folder = Path(name)
        # The workers of a front that root starts are somebody else, and write their spool files here.
        folder.chmod(0o755)
        shutil.copytree(SHIPPED, folder, dirs_exist_ok=True)
        _certify(folder / "tls")
        _replace_servers(folder / "upstream.conf", ports)
        if not metered:
            (folder / "metered.conf").write_text("", encoding="utf-8")
        if listen_port is not None:
            listen = folder / "listen.conf"
            text = listen.read_text(encoding="utf-8")
            assert "listen 8443 " in text
            listen.write_text(text.replace("listen 8443 ", f"listen {LOOPBACK}:{listen_port} "), encoding="utf-8")
        yield folder


@contextmanager
def fronted(ports: Sequence[int], *, metered: bool = True) -> Iterator[Front]:
    """The front before the servers at these ports, without its limits on how often where they would be in the way.

    Raises AssertionError when it does not come to answer.
    """
    port = free_port()
    with folder_of_front(ports, listen_port=port, metered=metered) as folder:
        # What it logs to /dev/stdout it opens anew: a file serves where a pipe may not.
        with (folder / "out").open("wb") as out, (folder / "err").open("wb") as err:
            process = subprocess.Popen([*command(folder), "-g", "daemon off;"], stdout=out, stderr=err)
        try:
            assert until(lambda: answers(port), START_S), (folder / "err").read_text(encoding="utf-8")
            yield Front(port=port, folder=folder)
        finally:
            process.terminate()
            process.wait(START_S)


def command(folder: Path) -> list[str]:
    """The command line that runs nginx with the files of a folder. Raises AssertionError where there is none."""
    assert NGINX is not None
    return [NGINX, "-p", f"{folder}/", "-c", str(folder / "nginx.conf")]


def _certify(folder: Path) -> None:
    folder.mkdir()
    request = ["openssl", "req", "-x509", "-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:prime256v1", "-noenc"]
    request += ["-days", "2", "-subj", f"/CN={HOST}", "-addext", f"subjectAltName=DNS:{HOST}"]
    request += ["-keyout", str(folder / "tls.key"), "-out", str(folder / "tls.crt")]
    subprocess.run(request, check=True, capture_output=True)


def _replace_servers(upstream: Path, ports: Sequence[int]) -> None:
    """Put one line for each port in the place of each line that names a server of the shipped file."""
    lines = []
    for line in upstream.read_text(encoding="utf-8").splitlines():
        words = line.split(maxsplit=2)
        if words[:1] == ["server"]:
            options = "" if words[1].endswith(";") else f" {words[2].rstrip(';')}"
            lines += [f"    server {LOOPBACK}:{port}{options};" for port in ports]
        else:
            lines.append(line)
    upstream.write_text("\n".join(lines) + "\n", encoding="utf-8")
