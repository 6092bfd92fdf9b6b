"""Signatures by `ssh-keygen -Y sign`: a person's own OpenSSH key, opened by OpenSSH.

Rules: `ssh-keygen` asks for the passphrase itself, at the terminal; neither it nor the key comes
here; what it signed is checked before anybody gets it; the message lies in a folder of this user
alone for as long as that takes.
"""

import subprocess
import tempfile
from pathlib import Path

from audit import sshsig
from audit.errors import Fault, KeyFileError, WrongPassphrase


class KeygenSigner:
    """A `Signer` for a key file that `ssh-keygen` opens. `program` is where ssh-keygen is."""

    def __init__(self, name: str, key: bytes, path: Path, program: str) -> None:
        self.name = name
        self.key = key
        self._path = path
        self._program = program

    def sign(self, namespace: str, message: bytes) -> bytes:
        """The raw OpenSSH signature blob; raises `WrongPassphrase` or `KeyFileError`."""
        try:
            with tempfile.TemporaryDirectory(prefix="latchword-") as folder:
                return self._signed(namespace, message, Path(folder) / "line")
        except OSError as error:
            raise KeyFileError(f"{self._program}: {error.strerror or error}") from None

    def _signed(self, namespace: str, message: bytes, line: Path) -> bytes:
        line.write_bytes(message)
        done = subprocess.run(
            [self._program, "-Y", "sign", "-f", str(self._path), "-n", namespace, str(line)],
            stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, check=False,
        )  # fmt: skip
        said = done.stderr.decode("utf-8", "replace").strip().splitlines()
        if done.returncode != 0:
            why = said[-1] if said else f"exit {done.returncode}"
            kind = WrongPassphrase if "incorrect passphrase" in why else KeyFileError
            raise kind(f"{self._path}: ssh-keygen did not sign for {self.name}: {why}")
        try:
            blob = sshsig.dearmor(line.with_name("line.sig").read_text("ascii"))
            sshsig.verify(blob, self.key, namespace, message)
        except (Fault, UnicodeDecodeError) as fault:
            raise KeyFileError(
                f"{self._path}: what ssh-keygen signed is no signature of {self.name}: {fault}"
            ) from None
        return blob
