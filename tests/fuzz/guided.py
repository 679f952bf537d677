"""The coverage-guided fuzzer, an outside library (Atheris, over libFuzzer) in an environment of its own.

That environment sees the packages of the one it was made from; only Atheris is installed in it.
"""

from __future__ import annotations

import subprocess
import sys
import sysconfig
import tempfile
from pathlib import Path

ENVIRONMENT = Path(__file__).parent.parent.parent / ".accuracy" / "fuzz-env"
PIN = "atheris==3.0.0"
SECONDS_A_CASE = 30


def install() -> int:
    """Make the environment; return pip's status."""
    subprocess.run([sys.executable, "-m", "venv", str(ENVIRONMENT)], check=True)
    python = _python()
    own = subprocess.run(
        [python, "-c", "import sysconfig; print(sysconfig.get_path('purelib'))"],
        check=True,
        capture_output=True,
        text=True,
    )
    (Path(own.stdout.strip()) / "facedown-packages.pth").write_text(sysconfig.get_path("purelib") + "\n", "utf-8")
    return subprocess.run([python, "-m", "pip", "install", "--quiet", PIN], check=False).returncode


def run(name: str, cases: int, found: Path) -> int:
    """Let coverage guide the cases of a door; return 0 where nothing was found."""
    if not Path(_python()).exists():
        print("There is no guided fuzzer. Make it: python -m tests.fuzz --install", file=sys.stderr)
        return 2
    with tempfile.TemporaryDirectory(prefix="facedown-fuzz-") as folder:
        corpus = Path(folder) / "corpus"
        corpus.mkdir()
        command = [_python(), "-m", "tests.fuzz.guided", name, folder, str(corpus), f"-runs={cases}"]
        command += [f"-timeout={SECONDS_A_CASE}", "-rss_limit_mb=1024", "-max_len=20000"]
        command += [f"-artifact_prefix={found}/{name}-guided-", "-print_final_stats=1", "-verbosity=1"]
        return min(1, subprocess.run(command, check=False).returncode)


def _python() -> str:
    return str(ENVIRONMENT / ("Scripts" if sys.platform == "win32" else "bin") / "python")


def _guide() -> None:
    """Be the process that libFuzzer drives."""
    import atheris  # type: ignore[import-untyped]

    name, folder, corpus = sys.argv[1:4]
    with atheris.instrument_imports(include=["kit", "scanner"]):
        from kit.errors import FacedownError
        from tests.fuzz.doors import door_named

        door = door_named(name)
        take = door.opened(Path(folder))
    for number, seed in enumerate(door.seeds()):
        (Path(corpus) / f"seed-{number}").write_bytes(seed)

    def one(content: bytes) -> None:
        try:
            take(content)
        except FacedownError:
            return

    atheris.Setup([sys.argv[0], corpus, *sys.argv[4:]], one)
    atheris.Fuzz()


if __name__ == "__main__":
    _guide()
