"""Take the checksum of a file without holding it in memory."""

from __future__ import annotations

import hashlib
from pathlib import Path

from wherestood.progress import Progress

__all__ = ["file_sha256"]

_CHUNK_BYTES = 8 * 1024 * 1024
_WORTH_A_STAGE_BYTES = 1_000_000_000


def file_sha256(path: Path, progress: Progress | None = None) -> str:
    """Return the SHA-256 of a file, hexadecimal; report progress on a large one."""
    size_bytes = path.stat().st_size
    shown = progress if size_bytes > _WORTH_A_STAGE_BYTES else None
    if shown is not None:
        shown.stage(f"checksum of {path.name}", -(-size_bytes // _CHUNK_BYTES))
    digest = hashlib.sha256()
    with path.open("rb") as stream:
        while chunk := stream.read(_CHUNK_BYTES):
            digest.update(chunk)
            if shown is not None:
                shown.advance()
    return digest.hexdigest()
