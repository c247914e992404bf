"""Tell whether a folder lies where a database file is not safe as usual."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path

__all__ = ["Whereabouts", "look_about"]

#: Kinds of file system that reach over a network, where the shared memory that
#: SQLite's write-ahead log needs does not work (https://sqlite.org/wal.html,
#: section 1, "All processes using a database must be on the same host computer").
NETWORK_KINDS = frozenset(
    {
        "9p", "afpfs", "afs", "beegfs", "ceph", "cifs", "davfs", "fuse.cephfs",
        "fuse.davfs", "fuse.glusterfs", "fuse.rclone", "fuse.s3fs", "fuse.sshfs",
        "fuse.vmhgfs-fuse", "glusterfs", "lustre", "ncpfs", "nfs", "nfs4", "prl_fs",
        "smb2", "smb3", "smbfs", "vboxsf", "vmhgfs", "webdav",
    }
)  # fmt: skip
#: Names of folders that programs keep the same on several machines. From memory.
SYNCED_NAMES = re.compile(
    r"^((my )?dropbox|onedrive|google ?drive|my drive|icloud ?drive|mobile documents"
    r"|com~apple~clouddocs|nextcloud|owncloud|syncthing|seafile|box sync|pcloud ?drive"
    r"|mega ?sync|resilio sync|cloudstorage)(\b.*)?$",
    re.IGNORECASE,
)
#: Files that such programs leave at the top of a folder. From memory.
SYNCED_MARKS = (
    ".dropbox", ".dropbox.cache", ".owncloudsync.log", ".stfolder", ".sync",
)  # fmt: skip
#: Each such program names the other copy in its own way when both were changed, but
#: keeps the name's beginning and end (from memory): any file named so but for the
#: database and its logs is one.
COPY = re.compile(r"daybook.+\.sqlite", re.IGNORECASE)


@dataclass(frozen=True)
class Whereabouts:
    """Say where a folder lies.

    Attributes
    ----------
    network : str
        Kind of network share; empty on a disk of this machine.
    synced : str
        The folder or file by which a synced folder is known; empty if none.
    conflicts : tuple of str
        Names of files that look like other copies of the database.
    """

    network: str = ""
    synced: str = ""
    conflicts: tuple[str, ...] = ()

    @property
    def is_safe(self) -> bool:
        """Say whether the database may be written as usual."""
        return not self.network and not self.synced

    def sentences(self) -> tuple[str, ...]:
        """Return what a person must know, in sentences."""
        told = []
        if self.network:
            told.append(
                f"Warning: the daybook lies on a network share ({self.network}). It "
                "is written the slower, safe way; work in it from one machine at a "
                "time."
            )
        if self.synced:
            told.append(
                f"Warning: the daybook lies in a synced folder ({self.synced}). It is "
                "written the slower, safe way; let the syncing finish before opening "
                "it on another machine."
            )
        told += [
            f"Warning: {name!r} looks like another copy of this daybook, made when "
            "two machines changed it at once. Merge it rather than delete it."
            for name in self.conflicts
        ]
        return tuple(told)


def look_about(folder: Path) -> Whereabouts:
    """Tell where a folder lies.

    Parameters
    ----------
    folder : Path
        The folder of a daybook, which need not exist yet.
    """
    whole = Path(os.path.realpath(folder))
    return Whereabouts(_network(whole), _synced(whole), _conflicts(whole))


def _network(folder: Path) -> str:
    if sys.platform == "win32":
        return _network_of_windows(folder)
    if sys.platform == "darwin":
        return kind_of_mount(folder, _mounts_of_macos())
    try:
        table = Path("/proc/self/mountinfo").read_text(encoding="utf-8")
    except OSError:
        return ""
    return kind_of_mount(folder, mounts_of_linux(table))


def kind_of_mount(folder: Path, mounts: dict[str, str]) -> str:
    """Return the kind of network share a folder is mounted from; empty if none.

    Parameters
    ----------
    folder : Path
        A whole path without links.
    mounts : dict
        Kind of file system by the folder it is mounted on.
    """
    for part in (folder, *folder.parents):
        kind = mounts.get(str(part))
        if kind is not None:
            return kind if kind.lower() in NETWORK_KINDS else ""
    return ""


def mounts_of_linux(table: str) -> dict[str, str]:
    """Read ``/proc/self/mountinfo`` (proc(5)); later mounts lie over earlier ones."""
    mounts = {}
    for line in table.splitlines():
        before, _, after = line.partition(" - ")
        fields, kinds = before.split(), after.split()
        if len(fields) > 4 and kinds:
            # Spaces and the like are written as octal numbers.
            where = re.sub(r"\\(\d{3})", lambda m: chr(int(m[1], 8)), fields[4])
            mounts[where] = kinds[0]
    return mounts


def _mounts_of_macos() -> dict[str, str]:
    try:
        told = subprocess.run(
            ["/sbin/mount"], capture_output=True, text=True, timeout=5, check=True
        ).stdout
    except (OSError, subprocess.SubprocessError):
        return {}
    found = re.findall(r" on (.+) \((\w+)[,)]", told)
    return dict(found)


def _network_of_windows(folder: Path) -> str:
    if str(folder).startswith("\\\\"):
        return "network share"
    import ctypes

    remote = 4  # DRIVE_REMOTE of GetDriveTypeW
    kernel = getattr(ctypes, "windll").kernel32  # noqa: B009
    return "network drive" if kernel.GetDriveTypeW(folder.anchor) == remote else ""


def _synced(folder: Path) -> str:
    for part in (folder, *folder.parents):
        if SYNCED_NAMES.match(part.name):
            return part.name
        for mark in SYNCED_MARKS:
            if (part / mark).exists():
                return f"{part.name}, which holds {mark}"
    return ""


def _conflicts(folder: Path) -> tuple[str, ...]:
    if not folder.is_dir():
        return ()
    try:
        names = sorted(path.name for path in folder.iterdir())
    except OSError:
        return ()
    return tuple(name for name in names if COPY.fullmatch(name))
