"""Build the image and run it, without a container engine: `python -m tests.deploy.build_image`.

It takes root, buildah and debootstrap from Debian, the package registries, and a few minutes. The base is made here; the
image is built by deploy/Dockerfile as it stands, from wheels that the lock file pins; then its own command is run in a
chroot with the image's own user and environment, asked whether it lives and for a decision, and asked to stop.
"""

import json
import os
import shutil
import signal
import subprocess
import sys
from argparse import ArgumentParser
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory
from time import perf_counter
from urllib.request import urlopen

from tests.deploy.client import Client
from tests.deploy.cooks import logs
from tests.deploy.processes import LOOPBACK, ROOT, START_S, STATE_KEY, answers, children, kill, until
from tests.ports import free_port

TOOLS = ("buildah", "debootstrap", "tar")
CONTEXT = ("pyproject.toml", "README.md", "schemas", "service", "deploy")
SUITE = "bookworm"
BASE, IMAGE = "localhost/base:test", "localhost/cookstop:test"
USER = 10001
MADE_BY_THE_BUILDER = {"etc/hosts", "etc/resolv.conf", "run/.containerenv"}


def missing() -> list[str]:
    """What is not there to build with."""
    lacking = [tool for tool in TOOLS if shutil.which(tool) is None]
    return lacking if os.geteuid() == 0 else [*lacking, "root"]


def main() -> None:
    """Build, run, and print what was found."""
    parser = ArgumentParser(prog="python -m tests.deploy.build_image", description=__doc__)
    parser.add_argument("--base", type=Path, help="a folder that debootstrap has made (one is made)")
    asked = parser.parse_args()
    if missing():
        sys.exit(f"not installed: {', '.join(missing())}")
    with TemporaryDirectory(prefix="image-") as folder:
        for name, value in built_and_run(Path(folder), asked.base).items():
            print(f"{name:<24} {value}")


def built_and_run(folder: Path, base: Path | None = None) -> dict[str, str]:
    """Build the image in a folder and run it there; what was found, in words. Raises AssertionError or CalledProcessError."""
    begun = perf_counter()
    builder = Builder(folder)
    builder.base(base or debootstrapped(folder / "base"))
    based = perf_counter()
    builder.image(context(folder / "context"))
    built = perf_counter()
    found = builder.run()
    times = {
        "base made in": f"{based - begun:.0f} s",
        "image built in": f"{built - based:.0f} s",
        "run and stopped in": f"{perf_counter() - built:.0f} s",
    }
    return times | found


def debootstrapped(folder: Path) -> Path:
    """The smallest Debian with Python, as a folder."""
    command = ["debootstrap", "--variant=minbase", "--include=python3,python3-venv", SUITE, str(folder)]
    subprocess.run(command, check=True, stdout=subprocess.DEVNULL)
    return folder


def context(folder: Path) -> Path:
    """What the image is built from, with the pinned wheels beside it."""
    folder.mkdir()
    for name in CONTEXT:
        whole = ROOT / name
        if whole.is_dir():
            shutil.copytree(whole, folder / name, ignore=shutil.ignore_patterns("__pycache__", "secrets", "tls"))
        else:
            shutil.copy(whole, folder / name)
    wheels = folder / "deploy" / "wheelhouse"
    for lock in ("requirements.lock", "build.lock"):
        fetch = [sys.executable, "-m", "pip", "download", "--quiet", "--require-hashes", "--only-binary=:all:"]
        subprocess.run([*fetch, "--dest", str(wheels), "--requirement", str(ROOT / "deploy" / lock)], check=True)
    return folder


@dataclass(frozen=True, slots=True)
class Builder:
    """buildah with all that it keeps below one folder."""

    folder: Path

    def base(self, root: Path) -> None:
        """Make the base image of a folder that holds a whole system."""
        packed = self.folder / "base.tar"
        pack = [str(shutil.which("tar")), "-C", str(root), "--exclude=./var/cache/apt", "-cf", str(packed), "."]
        subprocess.run(pack, check=True)
        container = self.do("from", "scratch")
        self.do("add", "--quiet", container, str(packed), "/")
        self.do("commit", "--quiet", "--rm", container, BASE)
        packed.unlink()

    def image(self, folder: Path) -> None:
        """Build the image by its Dockerfile, from wheels alone."""
        arguments = {"BASE": BASE, "PIP_NO_INDEX": "1", "PIP_FIND_LINKS": "deploy/wheelhouse"}
        said = [word for name, value in arguments.items() for word in ("--build-arg", f"{name}={value}")]
        file = str(folder / "deploy" / "Dockerfile")
        # Only this format keeps the health check.
        build = ("build", "--isolation", "chroot", "--format", "docker", "--pull-never", "--layers=false")
        self.do(*build, *said, "--file", file, "--tag", IMAGE, str(folder))

    def run(self) -> dict[str, str]:
        """Run the image's own command, at a port of loopback alone, ask it, and ask it to stop; what was found."""
        container = self.do("from", "--pull-never", IMAGE)
        config = json.loads(self.do("inspect", "--type", "image", IMAGE))["Docker"]["config"]
        root, port = Path(self.do("mount", container)), free_port()
        before = files(root)
        # A chroot has the network of the machine: nothing may listen beyond it.
        said = {
            "COOKSTOP_BIND": f"{LOOPBACK}:{port}",
            "COOKSTOP_STATE_KEYS": STATE_KEY,
            "COOKSTOP_LOG_LEVEL": "warning",
        }
        environ = [word for name, value in said.items() for word in ("--env", f"{name}={value}")]
        command = self.command("run", "--isolation", "chroot", *environ, container, "--", *config["Cmd"])
        running = subprocess.Popen(command)
        try:
            found = asked(port)
            healthy = [word.replace(":8080", f":{port}") for word in config["Healthcheck"]["Test"][1:]]
            self.do("run", "--isolation", "chroot", container, "--", *healthy)
            (master,) = [process for process, _ in serving_processes() if children(process)]
            os.kill(master, signal.SIGTERM)
            assert running.wait(START_S) == 0
        finally:
            for process, _ in serving_processes():
                kill(process)
            running.wait(START_S)
        written = {name for name, version in files(root).items() if before.get(name) != version} - MADE_BY_THE_BUILDER
        assert not written, written
        return found | {
            "health check": "passed in the container",
            "files written": "none",
            "size with its base": f"{sum(size for size, _ in before.values()) / 1e6:.0f} MB",
        }

    def do(self, *arguments: str) -> str:
        """Run one command of buildah to its end; what it printed. Raises CalledProcessError."""
        done = subprocess.run(self.command(*arguments), check=True, stdout=subprocess.PIPE, text=True)
        return done.stdout.strip()

    def command(self, *arguments: str) -> list[str]:
        """The command line for buildah."""
        kept = ["--root", str(self.folder / "kept"), "--runroot", str(self.folder / "run"), "--storage-driver", "vfs"]
        return ["buildah", *kept, *arguments]


def asked(port: int) -> dict[str, str]:
    """Ask the running container; what was found."""
    assert until(lambda: answers(port), START_S), "the container does not answer"
    with urlopen(f"http://{LOOPBACK}:{port}/livez", timeout=10) as alive:
        assert alive.status == 200
    with Client(port) as client:
        decisions = [json.loads(answer)["decision"] for answer in client.cook(logs(1)[0])]
    assert decisions[-1] == "stop"
    users = {user for _, user in serving_processes()}
    assert users == {USER}
    return {"decisions of a cook": f"{len(decisions)}, the last: {decisions[-1]}", "runs as user": f"{USER}"}


def serving_processes() -> list[tuple[int, int]]:
    """Process id and user of every process of a container that serves."""
    found = []
    for folder in Path("/proc").glob("[0-9]*"):
        try:
            words = (folder / "cmdline").read_text().split("\0")
            if words[:2] == ["/opt/cookstop/bin/python3", "/opt/cookstop/bin/gunicorn"]:
                found.append((int(folder.name), folder.stat().st_uid))
        except OSError:
            continue
    return found


def files(root: Path) -> dict[str, tuple[int, int]]:
    """Size and time of change of every file below a folder, by its path there."""
    return {
        str(file.relative_to(root)): (file.lstat().st_size, file.lstat().st_mtime_ns)
        for file in root.rglob("*")
        if file.is_file() and not file.is_symlink()
    }


if __name__ == "__main__":
    main()
