"""The shell: every exit status, every message in words, and what the help does not load."""

from __future__ import annotations

import errno
import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import click
import pytest
from click.testing import CliRunner, Result

from kit.errors import ExitCode, FacedownError, KitError, SessionError, StorageError
from kit.shell import COMMANDS, main

ROOT = Path(__file__).parents[2]
NO_DISK = pytest.mark.skipif(not Path("/dev/full").exists(), reason="only Linux has /dev/full")


def run(monkeypatch: pytest.MonkeyPatch, body: Callable[[], object]) -> Result:
    """Run `facedown probe`, a command that does nothing but `body`."""
    monkeypatch.setitem(COMMANDS, "probe", ("tests.kit.test_shell:probe", "A probe."))
    monkeypatch.setattr(sys.modules[__name__], "_body", body)
    return CliRunner().invoke(main, ["probe"])


def _body() -> object:
    raise NotImplementedError


@click.command()
def probe() -> object:
    """Do what the test asks."""
    return _body()


def raising(error: BaseException) -> Callable[[], object]:
    def body() -> object:
        click.echo("so far")
        raise error

    return body


def facedown(*arguments: str, stdout: int = subprocess.PIPE, **environment: str) -> subprocess.CompletedProcess[str]:
    """Run the command as a process of its own, its output buffered as a user's is."""
    inherited = {name: value for name, value in os.environ.items() if name != "PYTHONUNBUFFERED"}
    return subprocess.run(
        [sys.executable, "-m", "kit.shell", *arguments],
        cwd=ROOT,
        env=inherited | environment,
        stdout=stdout,
        stderr=subprocess.PIPE,
        encoding="utf-8",
        timeout=60,
        check=False,
    )


def test_the_table_names_every_command_and_the_help_shows_each() -> None:
    before = ["new", "check", "print", "unseal", "seal", "read", "score"]
    results = ["luck", "ability", "notes", "table", "confusions", "suggest"]
    assert list(COMMANDS) == [*before, *results, "report", "archive", "enter", "review", "rehearse", "demo", "doctor"]
    text = CliRunner().invoke(main, ["--help"]).stdout
    for name, (_, line) in COMMANDS.items():
        assert f"\n  {name} " in text
        assert line in text


def test_the_help_and_the_light_commands_load_no_heavy_library() -> None:
    code = (
        "import sys\nfrom kit.shell import main\n"
        "try:\n    main(sys.argv[1:])\nexcept SystemExit as end:\n    assert end.code == 0, end.code\n"
        "heavy = {'cv2', 'numpy', 'reportlab', 'PIL', 'pypdfium2', 'qrcode', 'zxingcpp', 'pyzbar', 'scanner'}\n"
        "print('loaded:', sorted(heavy & set(sys.modules)), file=sys.stderr)\n"
        "print('commands:', sorted(name for name in sys.modules if '.commands.' in name), file=sys.stderr)\n"
    )
    for arguments, commands in (
        (["--help"], "[]"),
        (["--version"], "[]"),
        (["check", "--help"], "['kit.commands.check']"),
        (["new", "--help"], "['kit.commands.new']"),
    ):
        end = subprocess.run(
            [sys.executable, "-c", code, *arguments], cwd=ROOT, capture_output=True, text=True, timeout=60, check=True
        )
        assert end.stdout
        assert end.stderr.splitlines()[-2:] == ["loaded: []", f"commands: {commands}"]


def test_the_version_is_said() -> None:
    result = CliRunner().invoke(main, ["--version"])
    assert result.exit_code == ExitCode.DONE
    assert result.stdout.startswith("facedown ")


@pytest.mark.parametrize("arguments", [["brew"], ["--colour"], ["check"], ["check", "a", "b"], ["new", "x", "--wet"]])
def test_wrong_usage_is_status_2(arguments: list[str]) -> None:
    result = CliRunner().invoke(main, arguments)
    assert result.exit_code == ExitCode.USAGE
    assert result.stdout == ""
    assert "Usage: " in result.stderr


@pytest.mark.parametrize("status", list(ExitCode))
def test_a_command_chooses_its_status(status: ExitCode, monkeypatch: pytest.MonkeyPatch) -> None:
    assert run(monkeypatch, lambda: click.get_current_context().exit(status)).exit_code == status
    assert run(monkeypatch, lambda: status).exit_code == status


@pytest.mark.parametrize("value", [None, 3, "text"])
def test_another_value_returned_is_no_status(value: object, monkeypatch: pytest.MonkeyPatch) -> None:
    assert run(monkeypatch, lambda: value).exit_code == ExitCode.DONE


@pytest.mark.parametrize(
    ("error", "status", "message"),
    [
        (KitError("K: it is half there.", "Print it again."), 4, "facedown: K: it is half there.\nPrint it again.\n"),
        (FacedownError("No."), 4, "facedown: No.\n"),
        (SessionError("s.toml", ["one", "two"]), 4, "facedown: s.toml: one\nfacedown: s.toml: two\n"),
        (StorageError("The archive is locked."), 5, "facedown: The archive is locked.\n"),
        (click.FileError("x.pdf", "no such file"), 4, "facedown: Could not open file 'x.pdf': no such file\n"),
        (KeyboardInterrupt(), 130, "facedown: interrupted; what was done is kept.\n"),
        (click.Abort(), 130, "facedown: interrupted; what was done is kept.\n"),
        (EOFError(), 130, "facedown: interrupted; what was done is kept.\n"),
        (BrokenPipeError(errno.EPIPE, "Broken pipe"), 130, ""),
        (
            OSError(errno.ENOSPC, "No space left on device", "kit/forms.pdf"),
            5,
            "facedown: kit/forms.pdf: the disk refused: no space left on device.\n"
            "Free some space, or write to another disk.\n",
        ),
        (
            OSError(errno.EROFS, "Read-only file system", "kit/forms.pdf"),
            5,
            "facedown: kit/forms.pdf: the disk refused: read-only file system.\nWrite to another disk or folder.\n",
        ),
        (
            PermissionError(errno.EACCES, "Permission denied", "kit"),
            5,
            "facedown: kit: the disk refused: permission denied.\nChoose a folder that you may write to.\n",
        ),
    ],
)
def test_an_error_becomes_a_sentence_and_a_status(
    error: BaseException, status: int, message: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    result = run(monkeypatch, raising(error))
    assert result.exit_code == status
    assert result.stderr == message
    assert result.stdout == "so far\n"


def test_a_defect_is_owned_and_its_traceback_kept_for_those_who_ask(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("FACEDOWN_DEBUG", raising=False)
    quiet = run(monkeypatch, raising(ValueError("odd")))
    assert quiet.exit_code == ExitCode.DEFECT
    assert "a defect of the program" in quiet.stderr
    assert "ValueError: odd" in quiet.stderr
    assert "Traceback" not in quiet.stderr
    monkeypatch.setenv("FACEDOWN_DEBUG", "1")
    loud = run(monkeypatch, raising(ValueError("odd")))
    assert loud.exit_code == ExitCode.DEFECT
    assert "Traceback" in loud.stderr
    assert "a defect of the program" in loud.stderr


def test_a_command_whose_module_does_not_load_is_a_defect_in_a_sentence(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(COMMANDS, "probe", ("kit.no_such_module:command", "A probe."))
    result = CliRunner().invoke(main, ["probe", "--help"])
    assert result.exit_code == ExitCode.DEFECT
    assert "no_such_module" in result.stderr
    assert "Traceback" not in result.stderr


def test_the_real_process_ends_in_the_status_too(tmp_path: Path) -> None:
    refused = facedown("check", str(tmp_path / "none.toml"))
    assert (refused.returncode, refused.stdout) == (4, "")
    assert refused.stderr.startswith("facedown: ")
    assert facedown().returncode == 2
    assert facedown("new", str(tmp_path / "a.toml")).returncode == 0


@pytest.mark.parametrize("arguments", [["--help"], ["check", "FILE"], ["check", "FILE", "--json"]])
def test_a_reader_who_leaves_ends_the_command_quietly(arguments: list[str], tmp_path: Path) -> None:
    file = tmp_path / "a.toml"
    assert facedown("new", str(file)).returncode == 0
    reading, writing = os.pipe()
    os.close(reading)
    try:
        end = facedown(*(str(file) if part == "FILE" else part for part in arguments), stdout=writing)
    finally:
        os.close(writing)
    assert (end.returncode, end.stderr) == (130, "")


@NO_DISK
@pytest.mark.parametrize("arguments", [["--help"], ["check", "FILE"]])
def test_a_full_disk_under_the_output_is_said_and_is_status_5(arguments: list[str], tmp_path: Path) -> None:
    file = tmp_path / "a.toml"
    assert facedown("new", str(file)).returncode == 0
    with Path("/dev/full").open("wb") as full:
        end = facedown(*(str(file) if part == "FILE" else part for part in arguments), stdout=full.fileno())
    assert end.returncode == ExitCode.STORAGE
    assert end.stderr.startswith("facedown: the disk refused: no space left on device.")
    assert "Traceback" not in end.stderr
    assert "Exception ignored" not in end.stderr


def test_what_goes_to_a_pipe_is_utf8_in_any_locale(tmp_path: Path) -> None:
    file = tmp_path / "a.toml"
    assert facedown("new", str(file)).returncode == 0
    file.write_text(file.read_text("utf-8").replace("Heron Marsh", "純米大吟醸 Ødegård"), "utf-8")
    end = facedown("check", str(file), "--json", PYTHONIOENCODING="latin-1", PYTHONUTF8="0")
    assert end.returncode == ExitCode.DONE
    assert "純米大吟醸 Ødegård" in end.stdout


def test_every_command_there_is_has_help() -> None:
    loaded = 0
    for name, (target, _) in COMMANDS.items():
        module = ROOT / (target.partition(":")[0].replace(".", "/") + ".py")
        if module.exists():
            result = CliRunner().invoke(main, [name, "--help"])
            assert result.exit_code == ExitCode.DONE, result.stderr
            assert result.stdout.startswith(f"Usage: facedown {name} ")
            loaded += 1
    assert loaded >= 2
