"""Pages in a bucket, and clearing away what nobody needs any more."""

from __future__ import annotations

import hashlib
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Final

from pipeline.afar.bucket import Bucket, side_by_side
from pipeline.afar.folder import PAGES, entry_of_file
from pipeline.afar.heads import Head, head_key, numbers, object_key

_KINDS: Final = {
    ".html": "text/html; charset=utf-8",
    ".css": "text/css; charset=utf-8",
    ".js": "text/javascript; charset=utf-8",
    ".json": "application/json",
    ".svg": "image/svg+xml",
}


def put_pages(bucket: Bucket, root: Path, number: int) -> str | None:
    """Put the pages that a command wrote, if it did; gives the folder that they are in."""
    pages = root / PAGES
    files = sorted(p for p in pages.rglob("*") if p.is_file()) if pages.is_dir() else []
    if not files:
        return None
    lines = (f"{entry_of_file(p).sha256} {p.relative_to(pages)}\n" for p in files)
    digest = hashlib.sha256("".join(lines).encode()).hexdigest()[:12]
    folder = f"{number:010d}-{digest}"
    side_by_side(
        lambda p: bucket.put(
            f"{PAGES}/{folder}/{p.relative_to(pages).as_posix()}",
            p.read_bytes(),
            _KINDS.get(p.suffix, "application/octet-stream"),
        ),
        files,
    )
    return folder


def show_pages(bucket: Bucket, folder: str) -> None:
    """Let the page that people open lead to the pages in a folder."""
    content = (
        '<!DOCTYPE html><html lang="en"><meta charset="utf-8"><title>levelhold</title>'
        f'<meta http-equiv="refresh" content="0; url={folder}/index.html">'
        f'<p><a href="{folder}/index.html">The pages of the last night</a></p></html>\n'
    )
    bucket.put(f"{PAGES}/index.html", content.encode(), _KINDS[".html"])


def clear(bucket: Bucket, head: Head, grace: timedelta, pages: str | None) -> None:
    """Remove what nobody needs: heads but the newest, objects that no head names, pages not shown.

    Only what was put longer ago than the grace; without one, all of it, whatever the clocks say.
    """
    before = datetime.now(UTC) - grace if grace else datetime.max.replace(tzinfo=UTC)
    old = {head_key(n) for n in numbers(bucket) if n < head.number}
    doomed = [o.key for o in bucket.list("heads") if o.key in old and o.put_at <= before]
    named = named_objects(head)
    doomed += [o.key for o in bucket.list("files") if o.key not in named and o.put_at <= before]
    if pages is not None:
        shown = (f"{PAGES}/index.html", f"{PAGES}/{pages}/")
        doomed += [
            o.key for o in bucket.list(PAGES) if not o.key.startswith(shown) and o.put_at <= before
        ]
    bucket.delete(doomed)


def named_objects(head: Head) -> set[str]:
    """The keys of the objects that a head names."""
    return {object_key(path, entry) for path, entry in head.files.items()}
