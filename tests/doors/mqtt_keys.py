"""Keys and passwords of one's own for the broker's tests, made by openssl and mosquitto_passwd."""

from __future__ import annotations

import subprocess
from dataclasses import dataclass
from pathlib import Path


@dataclass(frozen=True, slots=True)
class Keys:
    """An authority, a broker's certificate for 127.0.0.1, a chamber's certificate, and an authority nobody knows."""

    folder: Path

    def __getitem__(self, name: str) -> str:
        return str(self.folder / name)


def make_keys(folder: Path) -> Keys:
    """Make everything once; elliptic curves, so that it is quick."""
    folder.mkdir(parents=True, exist_ok=True)
    for authority in ("ca", "stranger"):
        _openssl(
            folder,
            f"req -x509 -newkey ec -pkeyopt ec_paramgen_curve:P-256 -nodes -days 2 -subj /CN={authority} -keyout {authority}.key -out {authority}.pem",
        )
    (folder / "san").write_text("subjectAltName=IP:127.0.0.1\n")
    for name in ("broker", "shed"):
        _openssl(
            folder,
            f"req -newkey ec -pkeyopt ec_paramgen_curve:P-256 -nodes -subj /CN={name} -keyout {name}.key -out {name}.csr",
        )
        _openssl(
            folder,
            f"x509 -req -in {name}.csr -CA ca.pem -CAkey ca.key -CAcreateserial -days 2 -extfile san -out {name}.pem",
        )
    (folder / "shed.key").chmod(0o600)
    return Keys(folder)


def password_file(folder: Path, **words: str) -> Path:
    """Make a password file for mosquitto: user = word."""
    folder.mkdir(parents=True, exist_ok=True)
    path = folder / "passwords"
    for number, (user, word) in enumerate(words.items()):
        subprocess.run(
            ["mosquitto_passwd", "-b", *(["-c"] if number == 0 else []), str(path), user, word],
            check=True,
            capture_output=True,
        )
    return path


def secret(path: Path, word: str) -> str:
    """Write a secret only its owner can read; return its path."""
    path.write_text(f"{word}\n")
    path.chmod(0o600)
    return str(path)


def _openssl(folder: Path, arguments: str) -> None:
    subprocess.run(["openssl", *arguments.split()], cwd=folder, check=True, capture_output=True)
