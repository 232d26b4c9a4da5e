"""The folder of backups: generations, and the files they share, kept once by what they hold.

    BACKUP_DIR/
        generations/2026-11-25T02-10-00Z/manifest    what it holds
                                         database    pg_dump's archive
        files/ab/ab12…                               one per content
        lock

Everything is closed (streams.py). A generation appears under its name when it is whole.
"""

import contextlib
import fcntl
import json
import os
import shutil
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from io import BytesIO
from pathlib import Path
from typing import Any, BinaryIO

from django.conf import settings

from contractor.operations import streams
from contractor.operations.errors import Damaged, Refused
from contractor.operations.generations import Keeping, moment_of, to_keep

MANIFEST = "manifest"
DATABASE = "database"
UNFINISHED = ".part"


class Shelf:
    """One folder of backups and the key to it."""

    def __init__(self, folder: Path, key: streams.Key) -> None:
        self.folder = folder
        self.key = key
        self.generations = folder / "generations"
        self.files = folder / "files"

    @classmethod
    def from_settings(cls) -> "Shelf":
        """Open the configured one.

        Raises
        ------
        Refused
            If folder or key are not configured, or the key is too short to be one.
        """
        if not settings.BACKUP_DIR:
            raise Refused("BACKUP_DIR is not set. Name a folder, on another disk than the data.")
        if len(settings.BACKUP_KEY) < streams.SHORTEST_KEY:
            raise Refused(
                f"BACKUP_KEY needs at least {streams.SHORTEST_KEY} random characters; it has"
                f" {len(settings.BACKUP_KEY)}. Make one with: openssl rand -hex 32. Keep a copy"
                " elsewhere: without it no backup opens."
            )
        return cls(Path(settings.BACKUP_DIR), streams.Key(settings.BACKUP_KEY))

    @contextmanager
    def locked(self, *, shared: bool = False) -> Iterator[None]:
        """Hold the folder: one backup at a time, and none is cleared away while it is read.

        Raises
        ------
        Refused
            If the folder cannot be written, or another backup or return is under way.
        """
        try:
            self.generations.mkdir(parents=True, exist_ok=True, mode=0o700)
            self.files.mkdir(exist_ok=True, mode=0o700)
            lock = (self.folder / "lock").open("a")
        except OSError as error:
            raise Refused(f"The folder of backups cannot be written: {error.strerror}.") from None
        with lock:
            try:
                fcntl.flock(lock, (fcntl.LOCK_SH if shared else fcntl.LOCK_EX) | fcntl.LOCK_NB)
            except BlockingIOError:
                raise Refused("Another backup or return is under way. Wait for its end.") from None
            yield

    def give_sign(self) -> None:
        """Say that the nightly backup waits for its hour; the health check looks for it."""
        self.folder.mkdir(parents=True, exist_ok=True, mode=0o700)
        (self.folder / "alive").touch()

    def list_names(self) -> list[str]:
        """List the whole generations, oldest first."""
        names = []
        for entry in self.generations.glob("*"):
            with contextlib.suppress(ValueError):
                moment_of(entry.name)
                names.append(entry.name)
        return sorted(names)

    def choose(self, name: str) -> str:
        """Find a generation by its name; `latest` is the newest.

        Raises
        ------
        Refused
            If there is none.
        """
        names = self.list_names()
        if not names:
            raise Refused(f"No backup lies in {self.folder}. Look at BACKUP_DIR.")
        if name == "latest":
            return names[-1]
        if name not in names:
            raise Refused(f"There is no generation {name}. There are: {', '.join(names)}.")
        return name

    @contextmanager
    def writing(self, name: str) -> Iterator[Path]:
        """Give the folder of a new generation; under its name only once all is written."""
        for left in self.generations.glob(f"*{UNFINISHED}"):
            shutil.rmtree(left)
        new = self.generations / (name + UNFINISHED)
        new.mkdir(mode=0o700)
        yield new
        _sync(new)
        new.rename(self.generations / name)
        _sync(self.generations)

    def write(self, path: Path, source: BinaryIO, *, name: str) -> int:
        """Close a stream into a file that is on the disk when this returns."""
        aside = path.with_name(path.name + UNFINISHED)
        with aside.open("wb") as target:
            size = streams.close(source, target, key=self.key, name=name)
            target.flush()
            os.fsync(target.fileno())
        aside.rename(path)
        return size

    def write_manifest(self, folder: Path, generation: str, manifest: dict[str, Any]) -> None:
        """Write what a generation holds."""
        source = BytesIO(json.dumps(manifest).encode())
        self.write(folder / MANIFEST, source, name=f"{generation}/{MANIFEST}")

    def read_manifest(self, generation: str) -> dict[str, Any]:
        """Read what a generation holds; Damaged or WrongKey as the stream says."""
        try:
            with (self.generations / generation / MANIFEST).open("rb") as source:
                text = b"".join(
                    streams.open_(source, key=self.key, name=f"{generation}/{MANIFEST}")
                )
        except FileNotFoundError:
            raise Damaged(f"Generation {generation} has no manifest. Take another.") from None
        manifest: dict[str, Any] = json.loads(text)
        return manifest

    def read_database(self, generation: str) -> Iterator[bytes]:
        """Open the dump of a generation."""
        try:
            source = (self.generations / generation / DATABASE).open("rb")
        except FileNotFoundError:
            raise Damaged(f"Generation {generation} has no database. Take another.") from None
        with source:
            yield from streams.open_(source, key=self.key, name=f"{generation}/{DATABASE}")

    def _place(self, path: str) -> Path:
        kept = self.key.name_of(path)
        return self.files / kept[:2] / kept

    def keep_file(self, path: str, original: Path) -> bool:
        """Keep a file by its path, which names its content; answer whether it was new."""
        place = self._place(path)
        size = original.stat().st_size
        with contextlib.suppress(FileNotFoundError):
            if place.stat().st_size == streams.closed_size(size):
                return False
        place.parent.mkdir(exist_ok=True, mode=0o700)
        with original.open("rb") as source:
            self.write(place, source, name=self.key.name_of(path))
        return True

    def read_file(self, path: str) -> Iterator[bytes]:
        """Open a kept file."""
        try:
            source = self._place(path).open("rb")
        except FileNotFoundError:
            raise Damaged(f"The file {path} is missing in the backup.") from None
        with source:
            yield from streams.open_(source, key=self.key, name=self.key.name_of(path))

    def clear(self, keeping: Keeping) -> list[str]:
        """Clear away the generations that are no longer kept, and the files that none needs.

        Where one manifest cannot be read nothing is cleared: what it needs is not known.
        """
        names = self.list_names()
        kept = to_keep(names, keeping)
        needed = set()
        for name in kept:
            needed |= {self._place(path) for path, _ in self.read_manifest(name)["files"]}
        gone = [name for name in names if name not in kept]
        for name in gone:
            shutil.rmtree(self.generations / name)
        if gone:
            self._remove_but(needed)
        return gone

    def _remove_but(self, needed: Iterable[Path]) -> None:
        needed = set(needed)
        for place in self.files.glob("*/*"):
            if place not in needed:
                place.unlink()


def _sync(folder: Path) -> None:
    number = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(number)
    finally:
        os.close(number)
