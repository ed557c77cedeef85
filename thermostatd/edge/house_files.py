"""The files that a house file names: they must be there, and secrets must not be open to everyone.

Rules: a relative name counts from the folder of the house file; a loaded house holds absolute names.
"""

from __future__ import annotations

import os
import stat
from dataclasses import dataclass
from pathlib import Path as FilePath

from thermostatd.core.house import House
from thermostatd.edge.house_faults import Finding, Path


@dataclass(frozen=True, slots=True)
class NamedFile:
    """One file that the house file names."""

    path: Path
    name: str
    secret: bool


def named_files(house: House) -> list[NamedFile]:
    """Every file that the house names."""
    broker, pages = house.broker, house.pages
    named: list[tuple[Path, str | None, bool]] = [
        (("broker", "password_file"), broker.password_file, True),
        (("pages", "owner_passphrase_file"), pages.owner_passphrase_file, True),
    ]
    if house.notices:
        named.append((("notices", "addresses_file"), house.notices.addresses_file, True))
    if broker.tls:
        named.append((("broker", "tls", "ca"), broker.tls.ca, False))
        named.append((("broker", "tls", "cert"), broker.tls.cert, False))
        named.append((("broker", "tls", "key"), broker.tls.key, True))
    if pages.tls:
        named.append((("pages", "tls", "cert"), pages.tls.cert, False))
        named.append((("pages", "tls", "key"), pages.tls.key, True))
    return [NamedFile(path, name, secret) for path, name, secret in named if name is not None]


def file_findings(house: House, folder: FilePath) -> list[Finding]:
    """What is wrong with the named files."""
    found = []
    for named in named_files(house):
        wrong = _wrong(folder / named.name, named.secret)
        if wrong:
            found.append(Finding(named.path, *wrong))
    return found


def _wrong(file: FilePath, secret: bool) -> tuple[str, str] | None:
    try:
        status = os.stat(file)
    except (OSError, ValueError) as fault:
        why = fault.strerror if isinstance(fault, OSError) and fault.strerror else "no usable name"
        return f"the file {_shown(file)} cannot be found ({why})", "Write it, or correct the name"
    if not stat.S_ISREG(status.st_mode):
        return f"{_shown(file)} is no plain file", "Name a plain file"
    if not os.access(file, os.R_OK):
        return f"the file {_shown(file)} may not be read by this user", "Change its owner, or its mode"
    if status.st_size == 0:
        return f"the file {_shown(file)} is empty", "Write its content"
    if secret and status.st_mode & (stat.S_IROTH | stat.S_IWOTH):
        return f"the secret in {_shown(file)} is open to every user here", f"chmod o-rwx {_shown(file)}"
    return _blank(file) if secret else None


def _blank(file: FilePath) -> tuple[str, str] | None:
    try:
        first_line(file)
    except (OSError, ValueError):
        return f"the first line of {_shown(file)} holds no readable text", "Write the secret there, as UTF-8"
    return None


def _shown(file: FilePath) -> str:
    return "".join(sign if sign.isprintable() else " " for sign in str(file))[:200]


def with_whole_names(house: House, folder: FilePath) -> House:
    """The house with every file named from the root."""

    def whole(name: str | None) -> str | None:
        return None if name is None else str((folder / name).absolute())

    broker, pages = house.broker, house.pages
    tls = broker.tls
    authority = {"ca": whole(tls.ca), "cert": whole(tls.cert), "key": whole(tls.key)} if tls else {}
    broker_tls = tls and tls.model_copy(update=authority)
    own = pages.tls
    pages_tls = own and own.model_copy(update={"cert": whole(own.cert), "key": whole(own.key)})
    notices = house.notices and house.notices.model_copy(
        update={"addresses_file": whole(house.notices.addresses_file)}
    )
    secret, phrase = whole(broker.password_file), whole(pages.owner_passphrase_file)
    return house.model_copy(
        update={
            "notices": notices,
            "broker": broker.model_copy(update={"password_file": secret, "tls": broker_tls}),
            "pages": pages.model_copy(update={"owner_passphrase_file": phrase, "tls": pages_tls}),
        }
    )


def first_line(file: str | os.PathLike[str]) -> str:
    """The first line of a secret's file, without its line end. OSError or ValueError where it has none."""
    with open(file, encoding="utf-8") as opened:
        line = opened.readline(4096).rstrip("\r\n")
    if not line.strip():
        raise ValueError(f"the first line of {file} is blank: write the secret there")
    return line
