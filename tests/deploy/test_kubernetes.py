"""The manifests: by the schemas of the orchestrator, strictly, and by what a stop without loss needs."""

import shutil
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
import yaml

from tests.deploy.processes import GRACEFUL_TIMEOUT_S, ROOT

FOLDER = ROOT / "deploy" / "kubernetes"
MANIFESTS = sorted(file.name for file in FOLDER.glob("*.yaml") if file.name != "kustomization.yaml")
VALIDATE = shutil.which("kubernetes-validate", path=str(Path(sys.executable).parent))


def manifest(name: str) -> dict[str, Any]:
    text: dict[str, Any] = yaml.safe_load((FOLDER / name).read_text(encoding="utf-8"))
    return text


@pytest.fixture
def pod() -> dict[str, Any]:
    spec: dict[str, Any] = manifest("deployment.yaml")["spec"]["template"]["spec"]
    return spec


@pytest.fixture
def container(pod: dict[str, Any]) -> dict[str, Any]:
    (only,) = pod["containers"]
    found: dict[str, Any] = only
    return found


def validated(*files: Path) -> "subprocess.CompletedProcess[str]":
    assert VALIDATE is not None
    return subprocess.run([VALIDATE, "--strict", *map(str, files)], capture_output=True, text=True, check=False)


@pytest.mark.skipif(VALIDATE is None, reason="kubernetes-validate is not installed")
def test_schemas_of_the_orchestrator_take_every_manifest(tmp_path: Path) -> None:
    told = validated(*(FOLDER / name for name in MANIFESTS))
    assert told.returncode == 0, told.stdout + told.stderr
    misspelt = tmp_path / "misspelt.yaml"
    misspelt.write_text((FOLDER / "deployment.yaml").read_text(encoding="utf-8").replace("livenessProbe", "liveness"))
    assert validated(misspelt).returncode != 0, "the schemas refuse nothing"


def test_every_manifest_but_the_example_is_applied() -> None:
    assert manifest("kustomization.yaml")["resources"] != []
    assert sorted(manifest("kustomization.yaml")["resources"]) == [
        name for name in MANIFESTS if ".example." not in name
    ]


def test_stop_is_longer_than_the_workers_take_to_finish(pod: dict[str, Any], container: dict[str, Any]) -> None:
    said = {one["name"]: one["value"] for one in container["env"]}
    assert float(said["COOKSTOP_DRAIN_S"]) < GRACEFUL_TIMEOUT_S < pod["terminationGracePeriodSeconds"]


def test_container_may_do_nothing_but_compute(pod: dict[str, Any], container: dict[str, Any]) -> None:
    assert pod["securityContext"]["runAsNonRoot"]
    assert pod["securityContext"]["seccompProfile"] == {"type": "RuntimeDefault"}
    assert not pod["automountServiceAccountToken"]
    context = container["securityContext"]
    assert context["readOnlyRootFilesystem"]
    assert not context["allowPrivilegeEscalation"]
    assert context["capabilities"] == {"drop": ["ALL"]}
    assert container["resources"].keys() == {"requests", "limits"}
    assert manifest("network.yaml")["spec"]["egress"] == []


def test_probes_ask_paths_that_there_are(container: dict[str, Any]) -> None:
    paths = {
        probe: container[probe]["httpGet"]["path"] for probe in ("startupProbe", "livenessProbe", "readinessProbe")
    }
    assert paths == {"startupProbe": "/livez", "livenessProbe": "/livez", "readinessProbe": "/readyz"}


def test_all_speak_of_the_same_pods() -> None:
    labels = manifest("deployment.yaml")["spec"]["template"]["metadata"]["labels"]
    assert manifest("deployment.yaml")["spec"]["selector"]["matchLabels"] == labels
    assert manifest("service.yaml")["spec"]["selector"] == labels
    assert manifest("disruption.yaml")["spec"]["selector"]["matchLabels"] == labels
    assert manifest("network.yaml")["spec"]["podSelector"]["matchLabels"] == labels
    assert manifest("autoscaler.yaml")["spec"]["scaleTargetRef"]["name"] == "cookstop"


def test_files_of_the_secret_are_where_the_settings_look(pod: dict[str, Any], container: dict[str, Any]) -> None:
    (mounted,) = [mount["mountPath"] for mount in container["volumeMounts"] if mount["name"] == "secrets"]
    looked_for = {one["value"] for one in container["env"] if one["name"].endswith("_FILE")}
    secret = manifest("secret.example.yaml")
    assert looked_for == {f"{mounted}/{name}" for name in secret["stringData"]}
    (volume,) = [volume for volume in pod["volumes"] if volume["name"] == "secrets"]
    assert volume["secret"]["secretName"] == secret["metadata"]["name"]


def test_values_of_the_example_cannot_be_taken_for_real_ones() -> None:
    for value in manifest("secret.example.yaml")["stringData"].values():
        assert value.strip() == "PLACEHOLDER"
