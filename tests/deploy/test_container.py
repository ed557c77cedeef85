"""The container file builds on a plain Debian 12 and runs as its own user, in good health beside a real broker.

No registry is asked: the base is a tree that debootstrap makes (THERMOSTATD_TREE names one made earlier). buildah runs
the steps and the program in its chroot isolation, which needs no runtime for containers; what such a runtime adds
(read-only root, dropped capabilities) is not proven here.
"""

from __future__ import annotations

import os
import resource
import shutil
import subprocess
import tarfile
import time
import urllib.request
from pathlib import Path

import pytest

from tests.deploy.machine import bootstrap
from tests.parts.mosquitto import Mosquitto, free_port, wait_until

ROOT = Path(__file__).resolve().parents[2]
PROGRAM = "/opt/thermostatd/current/bin/thermostatd"
HOUSE = """[broker]
port = {broker}
[pages]
listen = "127.0.0.1:{pages}"
[[room]]
name = "study"
sensor = {{ topic = "study/air" }}
"""

pytestmark = [
    pytest.mark.night,
    pytest.mark.timeout(2400),
    pytest.mark.skipif(
        shutil.which("buildah") is None or os.geteuid() != 0, reason="needs root, and apt-get install buildah"
    ),
]


class Buildah:
    """buildah with a store of its own, within the limits that this machine sets."""

    def __init__(self, folder: Path) -> None:
        (folder / "storage.conf").write_text(
            f'[storage]\ndriver = "vfs"\nrunroot = "{folder}/run"\ngraphroot = "{folder}/graph"\n'
        )
        self.env = os.environ | {"CONTAINERS_STORAGE_CONF": str(folder / "storage.conf")}
        files, processes = resource.getrlimit(resource.RLIMIT_NOFILE), 32_768
        self.limits = [f"--ulimit=nofile={files[0]}:{files[1]}", f"--ulimit=nproc={processes}:{processes}"]

    def __call__(self, *words: str, **settings: object) -> str:
        """One command to its end."""
        done = subprocess.run(
            ["buildah", *words], env=self.env, capture_output=True, text=True, check=False, **settings
        )  # type: ignore[call-overload]
        assert done.returncode == 0, f"{words[0]}: {done.stdout[-2000:]}{done.stderr[-2000:]}"
        return str(done.stdout).strip()


@pytest.fixture(scope="module")
def image(tmp_path_factory: pytest.TempPathFactory) -> tuple[Buildah, str]:
    """The image, built of what is committed."""
    folder = tmp_path_factory.mktemp("image")
    build, tree = Buildah(folder), Path(os.environ.get("THERMOSTATD_TREE", folder / "tree"))
    if not tree.is_dir():
        bootstrap(tree, "ca-certificates")
    for file in (
        "/etc/pip.conf",
        "/etc/apt/apt.conf.d/99artifact-registry",
    ):  # how this machine reaches its registries
        if Path(file).is_file() and not (tree / file[1:]).exists():
            shutil.copy(file, tree / file[1:])
    trusted = Path("/etc/ssl/certs/ca-certificates.crt")  # and whom it trusts on the way, such as a proxy of its own
    if trusted.is_file():
        shutil.copy(trusted, tree / str(trusted)[1:])
    base = build("from", *build.limits, "scratch")
    build("add", base, str(tree), "/")
    build("commit", base, "localhost/debian-tree:12")
    source = folder / "source"
    source.mkdir()
    kept = subprocess.run(["git", "-C", str(ROOT), "archive", "HEAD"], check=True, capture_output=True).stdout
    (folder / "source.tar").write_bytes(kept)
    with tarfile.open(folder / "source.tar") as archive:
        archive.extractall(source, filter="data")
    build(
        "bud", "--isolation=chroot", "--network=host", *build.limits, "--build-arg=BASE=localhost/debian-tree:12",
        "-t", "thermostatd", "-f", "deploy/Containerfile", ".", cwd=source,
    )  # fmt: skip
    return build, build("from", *build.limits, "localhost/thermostatd")


def test_the_image_runs(image: tuple[Buildah, str], tmp_path: Path) -> None:
    """Its user is no root and owns the record's folder; `check` and `run` work; it is healthy, and ends at once."""
    build, container = image
    tmp_path.chmod(0o755)  # the program is no root
    run = [
        "run",
        "--isolation=chroot",
        "--network=host",
        f"--volume={tmp_path}:/etc/thermostatd:ro",
        container,
        "--",
    ]
    assert build(*run, "id", "-u") == "10001"
    assert build(*run, "stat", "-c", "%U %a", "/var/lib/thermostatd") == "thermostatd 700"
    with Mosquitto(tmp_path / "broker") as broker:
        pages = free_port()
        (tmp_path / "house.toml").write_text(HOUSE.format(broker=broker.port, pages=pages))
        assert "no faults" in build(*run, PROGRAM, "check", "/etc/thermostatd/house.toml")
        words = ["buildah", *run, PROGRAM, "run", "/etc/thermostatd/house.toml"]
        with open(tmp_path / "log", "wb") as log:
            process = subprocess.Popen(words, env=build.env, stdout=log, stderr=log)
        try:
            healthy = wait_until(lambda: _answers(f"http://127.0.0.1:{pages}/health"), 90, 0.5)
            assert healthy, (tmp_path / "log").read_text()
        finally:
            began = time.monotonic()
            process.terminate()
            process.wait(30)
        print(f"the container's program ended {time.monotonic() - began:.1f} s after it was told to")
    assert "Traceback" not in (tmp_path / "log").read_text()


def _answers(address: str) -> bool:
    try:
        return bool(urllib.request.urlopen(address, timeout=2).status == 200)
    except OSError:
        return False
