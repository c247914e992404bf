"""Check how network shares and synced folders are told from a machine's own disk."""

from __future__ import annotations

from pathlib import Path

import pytest

from wherestood.daybook.whereabouts import (
    COPY,
    SYNCED_NAMES,
    kind_of_mount,
    look_about,
    mounts_of_linux,
)

# Source: proc(5), "/proc/pid/mountinfo", whose example has this form; invented.
TABLE = r"""
22 28 0:20 / / rw,relatime shared:1 - ext4 /dev/sda2 rw
36 22 0:33 / /home/ada/The\040museum rw,nosuid shared:2 - cifs //server/museum rw
37 22 0:34 / /mnt/archive rw shared:3 - nfs4 server:/archive rw
38 37 0:35 / /mnt/archive/local rw - xfs /dev/sdb1 rw
39 22 0:36 / /mnt/ssh rw - fuse.sshfs ada@server: rw
"""


@pytest.mark.parametrize(
    ("folder", "kind"),
    [
        ("/home/ada/my-valley", ""),
        ("/home/ada/The museum/my-valley", "cifs"),
        ("/mnt/archive/a/b", "nfs4"),
        ("/mnt/archive/local/a", ""),
        ("/mnt/ssh", "fuse.sshfs"),
    ],
)
def test_the_nearest_mount_decides(folder: str, kind: str) -> None:
    assert kind_of_mount(Path(folder), mounts_of_linux(TABLE)) == kind


@pytest.mark.parametrize(
    "name",
    [
        "Dropbox",
        "My Dropbox",
        "OneDrive",
        "OneDrive - Museum",
        "Google Drive",
        "GoogleDrive-ada",
        "iCloud Drive",
        "CloudStorage",
    ],
)
def test_names_of_synced_folders_are_known(name: str) -> None:
    assert SYNCED_NAMES.match(name)


@pytest.mark.parametrize("name", ["drop", "boxes", "my valley", "drive", "megaliths"])
def test_other_names_are_not_taken_for_synced_folders(name: str) -> None:
    assert not SYNCED_NAMES.match(name)


def test_other_copies_are_known_by_name() -> None:
    for name in (
        "daybook (conflicted copy).sqlite",
        "daybook.sync-conflict-20260102-030405-ABC.sqlite",
        "daybook-DESKTOP-7.sqlite",
        "daybook (1).sqlite",
        "Daybook 2.SQLite",
        "daybook_conf(1).sqlite",
    ):
        assert COPY.fullmatch(name)
    for name in ("daybook.sqlite", "daybook.sqlite-wal", "daybook.sqlite-journal"):
        assert not COPY.fullmatch(name)


def test_a_folder_of_this_machine_is_safe(tmp_path: Path) -> None:
    assert look_about(tmp_path).is_safe
    assert look_about(tmp_path).sentences() == ()
