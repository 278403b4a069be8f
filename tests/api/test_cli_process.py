"""The command line as a process: what it costs, and how it ends when it is stopped."""

import json
import os
import resource
import signal
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

from api import fake_stages
from dyecast_api.version import VERSION

COMMAND = [sys.executable, str(Path(fake_stages.__file__))]
ENVIRONMENT = {
    **os.environ,
    "PYTHONPATH": os.pathsep.join(path for path in sys.path if path),
    "OMP_NUM_THREADS": "1",
}
HEAVY = ("numpy", "cv2", "scipy", "reportlab", "PIL", "dyecast_inspect", "dyecast_calibration")

HELP_BUDGET_S = 0.5
"""CPU seconds `dyecast --help` may cost, as the best of three so that a busy machine does not fail it."""


def start(folder: Path, *arguments: str) -> subprocess.Popen[str]:
    """Start the command line with the pipeline that answers by name."""
    return subprocess.Popen(
        [*COMMAND, *arguments],
        cwd=folder,
        env=ENVIRONMENT,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        encoding="utf-8",
    )


def cpu_seconds_of(command: list[str]) -> float:
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    subprocess.run(command, env=ENVIRONMENT, check=True, capture_output=True)
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


def test_help_answers_at_once() -> None:
    command = [sys.executable, "-m", "dyecast_api", "--help"]
    assert min(cpu_seconds_of(command) for _ in range(3)) < HELP_BUDGET_S


def test_help_imports_nothing_heavy() -> None:
    program = (
        "import sys, dyecast_api.cli as cli\n"
        "try: cli.app(['inspect', '--help'])\n"
        "except SystemExit: pass\n"
        f"print([name for name in {HEAVY} if name in sys.modules], file=sys.stderr)"
    )
    result = subprocess.run(
        [sys.executable, "-c", program], env=ENVIRONMENT, check=True, capture_output=True, text=True
    )
    assert result.stderr.strip() == "[]"


def test_the_version_is_the_distributions() -> None:
    project = Path(__file__).parents[2] / "pyproject.toml"
    assert tomllib.loads(project.read_text(encoding="utf-8"))["project"]["version"] == VERSION


def test_results_appear_one_by_one_and_standard_error_stays_empty(tmp_path: Path) -> None:
    with start(tmp_path, "inspect", "good.jpg", "under.jpg", "-a", "sunset.png", "--json") as process:
        output, messages = process.communicate()
    assert process.returncode == 1
    assert [json.loads(line)["verdict"] for line in output.splitlines()] == ["good", "under-pressed"]
    assert messages == ""


@pytest.mark.parametrize(
    ("number", "status"), [(signal.SIGINT, 130), (signal.SIGTERM, 143)], ids=["Ctrl-C", "terminate"]
)
def test_a_stopped_command_ends_quietly_and_keeps_only_whole_files(
    tmp_path: Path, number: signal.Signals, status: int
) -> None:
    with start(tmp_path, "inspect", "good.jpg", "slow.jpg", "-a", "sunset.png", "--out", "out") as process:
        assert process.stdout is not None
        assert process.stderr is not None
        assert process.stdout.readline().startswith("Good")
        process.send_signal(number)
        process.wait(timeout=20)
        messages = process.stderr.read()
    assert process.returncode == status
    assert "Traceback" not in messages
    files = [path.relative_to(tmp_path) for path in tmp_path.rglob("*") if path.is_file()]
    assert sorted(map(str, files)) == ["out/good/inspection.json", "out/good/report.html"]


def test_a_reader_that_goes_away_is_no_error_message(tmp_path: Path) -> None:
    with start(tmp_path, "inspect", *["good.jpg"] * 400, "-a", "sunset.png", "--json") as process:
        assert process.stdout is not None
        assert process.stderr is not None
        process.stdout.readline()
        process.stdout.close()
        process.wait(timeout=60)
        assert process.stderr.read() == ""
    assert process.returncode == 141


def test_a_terminal_that_knows_no_delta_gets_an_escape_and_no_failure(tmp_path: Path) -> None:
    result = subprocess.run(
        [*COMMAND, "inspect", "good.jpg", "-a", "sunset.png"],
        cwd=tmp_path,
        env={**ENVIRONMENT, "PYTHONIOENCODING": "ascii"},
        capture_output=True,
        check=False,
    )
    assert result.returncode == 0
    assert result.stderr == b""
    assert b"\\u0394E00" in result.stdout


def test_a_file_name_that_is_no_text_is_shown_with_question_marks(tmp_path: Path) -> None:
    result = subprocess.run(
        [*map(os.fsencode, COMMAND), b"inspect", b"good-\xff.jpg", b"-a", b"sunset.png", b"--out", b"out"],
        cwd=tmp_path,
        env=ENVIRONMENT,
        capture_output=True,
        check=False,
    )
    assert result.returncode == 0, result.stderr
    assert result.stdout.decode("utf-8").startswith("Good ✓  good-?.jpg")
