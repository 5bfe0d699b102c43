"""The key file: random codes, kept apart, linked only on purpose."""

import stat
from collections.abc import Callable
from itertools import count
from pathlib import Path

import pytest

from pipeline.errors import StoreDamaged, UsageError
from pipeline.export.keys import Keys, random_code, read_keys

IDS = {"student": ["TH01", "TH02", "TH03"], "device": ["SIM-1"]}


def counting() -> Callable[[], str]:
    numbers = count()
    return lambda: f"{next(numbers):04x}"


def codes(keys: Keys, release_id: str) -> dict[str, str]:
    return {row["id"]: row["code"] for row in keys.table(release_id).to_pylist()}


def test_every_identifier_gets_a_code_of_its_own(tmp_path: Path) -> None:
    keys = Keys(tmp_path / "keys.json")
    keys.draw("r1", None, IDS, counting())
    assert codes(keys, "r1") == {
        "SIM-1": "D0003",
        "TH01": "P0000",
        "TH02": "P0001",
        "TH03": "P0002",
    }


def test_codes_rest_on_the_draw_alone_and_not_on_the_identifiers(tmp_path: Path) -> None:
    one, other = Keys(tmp_path / "one"), Keys(tmp_path / "other")
    one.draw("r1", None, {"student": [f"A{n}" for n in range(20)]}, counting())
    other.draw("r1", None, {"student": [f"Z{n}x" for n in range(20)]}, counting())
    assert sorted(codes(one, "r1").values()) == sorted(codes(other, "r1").values())


def test_two_releases_share_no_code_unless_linked(tmp_path: Path) -> None:
    keys = Keys(tmp_path / "keys.json")
    ids = {"student": [f"TH{n:03d}" for n in range(300)]}
    keys.draw("r1", None, ids, random_code)
    keys.draw("r2", None, ids, random_code)
    keys.draw("r3", "r1", {"student": [*ids["student"], "TH999"]}, random_code)
    first, second, third = (codes(keys, r) for r in ("r1", "r2", "r3"))
    assert not set(first.values()) & set(second.values())
    assert {i: c for i, c in third.items() if i != "TH999"} == {
        i: c for i, c in first.items() if i != "TH999"
    }
    assert keys.linked_releases("r1") == {"r1", "r3"} == keys.linked_releases("r3")


def test_a_code_drawn_twice_is_drawn_again(tmp_path: Path) -> None:
    drawn = iter(["aa", "aa", "bb"])
    keys = Keys(tmp_path / "keys.json")
    keys.draw("r1", None, {"student": ["TH01", "TH02"]}, lambda: next(drawn))
    assert codes(keys, "r1") == {"TH01": "Paa", "TH02": "Pbb"}


def test_the_file_is_readable_by_its_owner_only_and_reads_back(tmp_path: Path) -> None:
    keys = Keys(tmp_path / "keys.json")
    keys.draw("r1", None, IDS, random_code)
    keys.draw("r2", "r1", IDS, random_code)
    keys.save()
    assert stat.S_IMODE(keys.path.stat().st_mode) == 0o600
    assert read_keys(keys.path) == keys


def test_a_release_that_the_file_does_not_know_is_wrong_usage(tmp_path: Path) -> None:
    keys = Keys(tmp_path / "keys.json")
    with pytest.raises(UsageError, match="holds no codes of release r9"):
        keys.draw("r1", "r9", IDS, random_code)


@pytest.mark.parametrize("content", ["", "[]", '{"format": 9, "codes": {}, "links": {}}'])
def test_what_is_no_key_file_is_not_overwritten(tmp_path: Path, content: str) -> None:
    path = tmp_path / "keys.json"
    path.write_text(content)
    with pytest.raises(StoreDamaged, match="not a readable key file"):
        read_keys(path)
