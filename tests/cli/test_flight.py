"""`explain` and `debrief` as an instructor meets them: figures that can be followed to their seconds."""

import html
import math
from pathlib import Path

from tests.cli.conftest import Run
from tests.recorders import ELAPSED, TWO_CHANNELS, columns_text

LEVEL = "start_s,end_s,kind,target_altitude_ft,target_heading_deg\n10,130,level,3000,350\n"


def write_log(folder: Path, altitude: list[float], control: list[float] | None = None) -> Path:
    """A log at 1 Hz on heading 350, one value of altitude a second."""
    heading = ["time_s", "altitude_ft", "heading_deg", *(["pitch_control"] if control else [])]
    rows = [
        [str(t), str(a), "350", *([str(control[t])] if control else [])]
        for t, a in enumerate(altitude)
    ]
    path = folder / "flight.csv"
    path.write_text("\n".join(",".join(row) for row in [heading, *rows]) + "\n")
    return path


def write_tasks(folder: Path, text: str = LEVEL) -> Path:
    path = folder / "tasks.csv"
    path.write_text(text)
    return path


def test_explain_names_the_seconds_of_every_excursion(run: Run, school: Path) -> None:
    done = run("explain", "s1.1.01", "--warehouse", school / "warehouse")
    assert done.code == 0, done.err
    assert "asked for: 3000 ft, heading 090" in done.out
    assert "observed 120.0 s of 120.0 s" in done.out
    assert "standard first-lessons: +-200 ft (this project's own, no source" in done.out
    assert "never left the band" in done.out


def test_explain_of_an_unknown_maneuver_says_how_to_find_one(run: Run, school: Path) -> None:
    done = run("explain", "s9.1.01", "--warehouse", school / "warehouse")
    assert done.code == 2
    assert "there is no measured maneuver s9.1.01" in done.err


def test_debrief_says_what_was_held_and_what_trim_is_missing(run: Run, tmp_path: Path) -> None:
    control = [0.08 + 0.001 * (t % 2) for t in range(140)]
    log = write_log(tmp_path, [3000 + 30 * math.sin(t / 4) for t in range(140)], control)
    done = run("debrief", log, "--tasks", write_tasks(tmp_path), "--neutral", "0.0")
    assert done.code == 0, done.err
    assert "level, 3000 ft, heading 350" in done.out
    assert "altitude held within 30 ft for 95 % of the time" in done.out
    assert "a steady pull: nose-up trim is missing" in done.out
    assert "replaces none" in done.out


def test_debrief_without_a_neutral_says_that_trim_cannot_be_told(run: Run, tmp_path: Path) -> None:
    log = write_log(tmp_path, [3000.0 + t % 3 for t in range(140)], [0.01] * 140)
    done = run("debrief", log, "--tasks", write_tasks(tmp_path))
    assert "Trim: cannot say (no neutral" in done.out


def test_debrief_holds_the_student_to_the_stage_asked_for(run: Run, tmp_path: Path) -> None:
    warehouse = tmp_path / "warehouse"
    warehouse.mkdir()
    (warehouse / "school.toml").write_text('[stages]\ntight = "faa-instrument"\n')
    log = write_log(tmp_path, [3000 + 250 * math.sin(t / 4) for t in range(140)])
    tasks = write_tasks(tmp_path)
    done = run("debrief", log, "--tasks", tasks, "--warehouse", warehouse, "--stage", "tight")
    assert "of +-100 ft, standard not met" in done.out


def test_debrief_of_a_spoiled_log_says_why_and_leaves_with_3(run: Run, tmp_path: Path) -> None:
    log = tmp_path / "flight.csv"
    log.write_text("time_s,heading_deg\n0,350\n1,350\n")
    done = run("debrief", log)
    assert done.code == 3
    assert "altitude_ft" in done.err
    assert done.out == ""


def test_debrief_of_a_missing_log_is_wrong_usage(run: Run, tmp_path: Path) -> None:
    assert run("debrief", tmp_path / "none.csv").code == 2
    assert run("debrief", tmp_path / "none.csv", "--device", "SIM-1").code == 2


def test_debrief_without_tasks_says_that_its_targets_flatter(run: Run, tmp_path: Path) -> None:
    log = write_log(tmp_path, [3000 + 10 * math.sin(t / 4) for t in range(300)])
    done = run("debrief", log)
    assert "level (found in the log), 3000 ft, heading 350" in done.out
    assert "this flatters" in done.out


def test_debrief_reads_another_recorder_s_log_with_its_profile(run: Run, tmp_path: Path) -> None:
    (tmp_path / "moth.toml").write_text(
        ELAPSED + TWO_CHANNELS.replace('"alt"', '"alt", unit = "m"')
    )
    log = tmp_path / "flight.csv"
    rows = range(140)
    log.write_text(columns_text(t=rows, alt=[914.4 + t % 2 for t in rows], hdg=[350] * 140))
    tasks = write_tasks(tmp_path)
    done = run("debrief", log, "--tasks", tasks, "--profile", tmp_path / "moth.toml")
    assert done.code == 0, done.err
    assert "altitude held within 3 ft for 95 % of the time" in done.out
    refused = run("debrief", log, "--tasks", tasks)
    assert refused.code == 3
    assert "altitude_ft" in refused.err


def test_debrief_of_a_log_with_times_of_day_starts_where_the_log_does(
    run: Run, tmp_path: Path
) -> None:
    log = tmp_path / "flight.csv"
    moments = [f"2026-03-14T09:{t // 60:02d}:{t % 60:02d}Z" for t in range(140)]
    log.write_text(columns_text(timestamp=moments, altitude_ft=[3000] * 140, heading_deg=[1] * 140))
    tasks = write_tasks(tmp_path)
    done = run("debrief", log, "--tasks", tasks)
    assert done.code == 0, done.err
    assert "00:10.0 to 02:10.0 (120.0 s): level" in done.out
    assert "warning" not in done.out
    early = run("debrief", log, "--tasks", tasks, "--started-at", "2026-03-14T08:00:00+01:00")
    assert "a time zone may be wrong" in early.out


def test_debrief_of_a_clock_without_a_date_asks_for_the_start(run: Run, tmp_path: Path) -> None:
    clock = '[time]\nform = "clock"\ncolumn = "t"\nzone = "UTC"\n'
    (tmp_path / "moth.toml").write_text(clock + TWO_CHANNELS)
    log = tmp_path / "flight.csv"
    log.write_text(columns_text(t=["09:00:00", "09:00:01"], alt=[1, 2], hdg=[3, 4]))
    done = run("debrief", log, "--profile", tmp_path / "moth.toml")
    assert done.code == 2
    assert "give the session's start with --started-at" in done.err


def test_debrief_tells_how_a_turn_was_rolled_out_and_names_the_task_list(
    run: Run, tmp_path: Path
) -> None:
    heading = [80.0] * 20 + [80 + 3 * t for t in range(20)] + [143.0] * 40
    log = tmp_path / "flight.csv"
    log.write_text(columns_text(time_s=range(80), altitude_ft=[3000] * 80, heading_deg=heading))
    tasks = write_tasks(
        tmp_path,
        "start_s,end_s,kind,target_altitude_ft,target_heading_deg\n"
        "18,45,turn,3000,140\n50,70,loop,3000,140\n",
    )
    done = run("debrief", log, "--tasks", tasks)
    assert "rolled out +3.0 deg from the heading" in done.out
    assert done.err.startswith("tasks.csv, line 3, column kind")


def test_debrief_writes_a_sheet_that_needs_nothing_and_runs_nothing(
    run: Run, tmp_path: Path
) -> None:
    log = write_log(tmp_path, [3000 + 450 * math.sin(t / 9) for t in range(140)], [0.02] * 140)
    odd = log.rename(tmp_path / "a<b>&.csv")
    sheet = tmp_path / "sheet.html"
    tasks = write_tasks(tmp_path)
    done = run("debrief", odd, "--tasks", tasks, "--neutral", "0.0", "--page", sheet)
    assert done.code == 0, done.err
    assert done.out.endswith(f"The sheet: {sheet}\n")
    text = sheet.read_text()
    assert "default-src 'none'; style-src 'sha256-" in html.unescape(text)
    assert "a&lt;b&gt;&amp;.csv" in text
    assert "a<b>" not in text
    for loading in ("<script", "src=", "url(", "@import", "<style ", 'style="', "onload"):
        assert loading not in text
    assert text.count("<svg ") == 3
    for said in (line.strip() for line in done.out.splitlines() if " held " in line):
        assert said.split(" within ")[0] in text
    assert "of ±200 ft, standard not met" in text


def test_a_refused_log_leaves_no_sheet_and_a_sheet_is_a_page(run: Run, tmp_path: Path) -> None:
    log = tmp_path / "flight.csv"
    log.write_text("time_s,heading_deg\n0,350\n1,350\n")
    assert run("debrief", log, "--page", tmp_path / "sheet.html").code == 3
    assert not (tmp_path / "sheet.html").exists()
    assert run("debrief", log, "--page", tmp_path / "sheet.pdf").code == 2
