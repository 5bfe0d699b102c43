"""Pages replace the old ones as a whole, and a killed run leaves nothing behind."""

from pathlib import Path

import pytest

from pipeline.pages.publish import publish


def content_of(folder: Path) -> dict[str, str]:
    files = (path for path in folder.rglob("*") if path.is_file())
    return {path.relative_to(folder).as_posix(): path.read_text() for path in files}


def test_a_folder_is_replaced_as_a_whole(tmp_path: Path) -> None:
    target = tmp_path / "pages"
    publish({"index.html": "old", "students/A.html": "a"}.items(), target)
    size = publish([("index.html", "newer"), ("assets/page.css", b"x")], target)
    assert content_of(target) == {"index.html": "newer", "assets/page.css": "x"}
    assert size == 6
    assert [path.name for path in tmp_path.iterdir()] == ["pages"]


def test_a_file_that_did_not_change_keeps_its_times(tmp_path: Path) -> None:
    target = tmp_path / "pages"
    publish({"a.html": "same", "b.html": "one"}.items(), target)
    before = {name: (target / name).stat().st_mtime_ns for name in ("a.html", "b.html")}
    publish({"a.html": "same", "b.html": "two"}.items(), target)
    assert (target / "a.html").stat().st_mtime_ns == before["a.html"]
    assert (target / "b.html").read_text() == "two"


def test_what_a_killed_run_left_is_cleared_away(tmp_path: Path) -> None:
    target = tmp_path / "pages"
    publish({"index.html": "one"}.items(), target)
    (tmp_path / ".pages.part").mkdir()
    (tmp_path / ".pages.part" / "half.html").write_text("half")
    publish({"index.html": "two"}.items(), target)
    assert content_of(target) == {"index.html": "two"}
    assert [path.name for path in tmp_path.iterdir()] == ["pages"]


def test_a_run_killed_between_two_renames_loses_nothing(tmp_path: Path) -> None:
    target = tmp_path / "pages"
    publish({"index.html": "one"}.items(), target)
    target.rename(tmp_path / ".pages.old")
    publish({"other.html": "two"}.items(), target)
    assert content_of(target) == {"other.html": "two"}


def test_a_fault_while_writing_leaves_the_old_pages(tmp_path: Path) -> None:
    target = tmp_path / "pages"
    publish({"index.html": "one"}.items(), target)
    with pytest.raises(OSError, match="index"):
        publish({"index.html": "two", "index.html/below.html": "no folder"}.items(), target)
    assert content_of(target) == {"index.html": "one"}


def test_without_an_exchange_two_renames_do(tmp_path: Path) -> None:
    target = tmp_path / "pages"
    publish({"index.html": "one"}.items(), target, in_one_step=False)
    publish({"index.html": "two"}.items(), target, in_one_step=False)
    assert content_of(target) == {"index.html": "two"}
    assert [path.name for path in tmp_path.iterdir()] == ["pages"]
