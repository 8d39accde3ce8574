"""What the page on running the service says to type, with a container engine and a cluster that only note what they are asked."""

import os
import shlex
import shutil
import sys
from pathlib import Path

import pytest
import yaml

from tests.commands.running import ROOT
from tests.deploy.test_container import ASKED, pinned
from tests.deploy.test_kubernetes import VALIDATE, validated
from tests.documentation.blocks import block
from tests.documentation.conftest import program, type_in
from tests.documentation.engine import listening

SECRETS = block("mkdir -m 700 deploy/secrets").text
as_root = pytest.mark.skipif(os.geteuid() != 0, reason="only root gives files to another user")


@pytest.fixture
def installed(folder):
    """The checkout, where `cookstop` is found by its name."""
    program(folder / ".programs" / "cookstop", f"exec {folder}/.venv/bin/cookstop")
    return folder


@as_root
def test_secrets_are_made_and_the_engine_is_asked_for_the_services(installed):
    compose = shutil.which("docker-compose")
    if compose is None:
        pytest.skip("no compose: install Debian's package docker-compose")
    # Where compose is no plug-in of docker it is a program of its own, as Debian has it.
    program(installed / ".programs" / "docker", f'test "$1" = compose && shift && exec {compose}')
    with listening() as engine:
        said = type_in(installed, SECRETS, DOCKER_HOST=engine.address, COMPOSE_DOCKER_CLI_BUILD="0")
    assert said.returncode == 0, said.stderr
    kept = {file.name: (file.stat().st_uid, file.stat().st_mode & 0o777) for file in secrets_of(installed)}
    assert kept == {"state-keys": (10001, 0o400), "keys.ndjson": (10001, 0o400)}
    # Nothing secret goes to the builder, nor does anything that the image is not made of.
    assert {name for name in engine.sent if not name.startswith(("schemas/", "service/"))} == {
        ".dockerignore",
        "README.md",
        "deploy/Dockerfile",
        "deploy/build.lock",
        "deploy/requirements.lock",
        "pyproject.toml",
    }
    assert engine.built == "cookstop:0.1.0"
    assert engine.started == ["cookstop_cookstop_1", "cookstop_cookstop-replays_1", "cookstop_front_1"]
    for name in engine.containers:
        shown = {f"{installed}/deploy/nginx"} if "front" in name else {*map(str, secrets_of(installed))}
        assert shown_to(engine.containers[name]) == shown
    assert all(asked["HostConfig"]["ReadonlyRootfs"] for asked in engine.containers.values())


def shown_to(container):
    """What of this machine it sees."""
    host = container["HostConfig"]
    binds = {bind.partition(":")[0] for bind in host["Binds"]}
    return binds | {mount["Source"] for mount in host.get("Mounts") or [] if mount["Type"] == "bind"}


def secrets_of(folder):
    return sorted((folder / "deploy" / "secrets").iterdir())


@pytest.mark.skipif(shutil.which("kubectl") is None, reason="no kubectl: install Debian's package kubernetes-client")
@pytest.mark.skipif(VALIDATE is None, reason="kubernetes-validate is not installed")
def test_cluster_is_given_what_its_schemas_take(installed):
    """`apply` sends what `kustomize` prints, and a dry run of `create` prints what it would send."""
    (installed / "deploy" / "secrets").mkdir()
    for name in ("state-keys", "keys.ndjson"):
        (installed / "deploy" / "secrets" / name).write_text(f"{name} of the tests\n")
    kubectl = shlex.quote(str(shutil.which("kubectl")))
    (installed / ".programs" / "kubectl").write_text(
        "#!/bin/sh\n"
        f'if [ "$1 $2" = "apply --kustomize" ]; then exec {kubectl} kustomize "$3" > applied.yaml; fi\n'
        f'exec {kubectl} "$@" --dry-run=client --output yaml > created.yaml\n'
    )
    (installed / ".programs" / "kubectl").chmod(0o755)
    said = type_in(installed, block("kubectl create secret").text)
    assert said.returncode == 0, said.stderr
    files = [installed / name for name in ("created.yaml", "applied.yaml")]
    told = validated(*files)
    assert told.returncode == 0, told.stdout + told.stderr
    secret, *others = (one for file in files for one in yaml.safe_load_all(file.read_text()))
    example = yaml.safe_load((ROOT / "deploy" / "kubernetes" / "secret.example.yaml").read_text())
    assert secret["data"].keys() == example["stringData"].keys()
    assert secret["metadata"]["name"] == example["metadata"]["name"]
    assert {one["kind"] for one in others} >= {"Deployment", "Service", "HorizontalPodAutoscaler"}


@pytest.mark.skipif(not os.environ.get(ASKED), reason=f"it takes minutes: {ASKED} asks for it")
def test_what_is_pinned_is_renewed(folder):
    before = {lock: pinned(lock).keys() for lock in ("requirements.lock", "build.lock")}
    tools = folder / "tools"
    made = type_in(folder, f"python3 -m venv {tools} && {tools}/bin/pip install --quiet pip-tools", PYTHONPATH="")
    assert made.returncode == 0, made.stderr
    path = f"{tools}/bin:{Path(sys.executable).parent}:{os.environ['PATH']}"
    said = type_in(folder, block("export CUSTOM_COMPILE_COMMAND").text, PATH=path, PYTHONPATH="")
    assert said.returncode == 0, said.stderr
    for lock, names in before.items():
        text = (folder / "deploy" / lock).read_text()
        assert all(f"\n{name}==" in text for name in names)
        assert "--hash=sha256:" in text
