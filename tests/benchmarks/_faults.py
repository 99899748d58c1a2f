"""Runs of sepkit that are stopped, starved or doubled, and whether what stands afterwards is whole.

In: a folder to work in, a command's name. Out: Verdicts. Whole means: as the old run left it, byte for byte, or every
file that an undisturbed new run makes, each complete.
"""

from __future__ import annotations

import hashlib
import json
import os
import random
import shutil
import signal
import subprocess
import sys
import time
from dataclasses import dataclass, field
from pathlib import Path

from PIL import Image

ROOT = Path(__file__).resolve().parents[2]
COMMANDS = ("separate", "films", "job")
_SEPARATE = ["separate", "art.png", "--on", "black tee", "--no-ladder", "-o", "out", "--force", "--quiet"]
_RUNS = {
    "separate": ([*_SEPARATE, "--width", "30mm"], [*_SEPARATE, "--width", "40mm"]),
    "films": ([*_SEPARATE, "--width", "60mm"], ["films", "out", "--dpi", "1440", "--png", "--quiet"]),
    "job": (["job", "drop.toml", "-o", "out", "--quiet"], ["job", "drop.toml", "-o", "out", "--quiet"]),
}
"""What makes the old output, and what is disturbed."""
_JOB = """schema = 1
title = "lantern festival"
[[screen]]
name = "large"
inside_width_mm = 500
inside_height_mm = 700
mesh = "77-55"
count = 8
[[blade]]
width_mm = 300
[[garment]]
name = "black tee"
sizes = { M = 5, L = 4 }
[[print]]
name = "oar"
art = "art.png"
placement = "left chest"
inks = 2
width_mm = WIDTH
"""


@dataclass(slots=True)
class Verdict:
    """What one disturbed run came to."""

    what: str
    stands: str
    """old, new, or what is wrong."""
    code: int
    wrong: list[str] = field(default_factory=list)
    hit: bool = True
    """Whether the run was still at work when it was disturbed."""


class Scene:
    """A folder with art, an old output, and what a new one consists of."""

    def __init__(self, folder: Path, command: str) -> None:
        self.folder, self.command = folder, command
        folder.mkdir(parents=True, exist_ok=True)
        _draw(folder / "art.png")
        self._job(40)
        first, self.words = _RUNS[command]
        self._must(first)
        shutil.copytree(folder / "out", folder / "old-out")
        self.old = fingerprint(folder / "old-out")
        self._job(60)
        started = time.perf_counter()
        self._must(self.words)
        self.seconds = time.perf_counter() - started
        self.new = set(fingerprint(folder / "out"))

    def disturbed(self, rng: random.Random, sign: signal.Signals) -> Verdict:
        """Run, send ``sign`` at some moment, and judge what stands; then run once more."""
        self.restore()
        run = subprocess.Popen(
            self._line(self.words),
            cwd=self.folder,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.PIPE,
            text=True,
            start_new_session=True,
            preexec_fn=_hear_ctrl_c,
        )
        after = rng.uniform(0.02, 1.05) * self.seconds
        try:
            _, told = run.communicate(timeout=after)
            hit = False
        except subprocess.TimeoutExpired:
            # Ctrl-C reaches all processes of a terminal, a kill one.
            os.killpg(run.pid, sign) if sign == signal.SIGINT else run.send_signal(sign)
            _, told = run.communicate(timeout=60)
            hit = True
        verdict = self.judged(f"{sign.name} after {after:.2f} s", run.returncode)
        verdict.hit = hit
        if sign == signal.SIGINT:
            self._check_hidden(verdict)
            if run.returncode not in (0, 130, -signal.SIGINT) or ("Traceback" in told and run.returncode == 130):
                verdict.wrong.append(f"exit {run.returncode}: {told.strip()[-200:]}")
        started = time.perf_counter()
        again = self.run(self.words)
        self.seconds = time.perf_counter() - started  # a machine is busier at one time than at another
        if again.returncode:
            verdict.wrong.append(f"the next run: exit {again.returncode}: {again.stderr.strip()[-200:]}")
        self._check_hidden(verdict)
        return verdict

    def starved(self, bytes_a_file: int) -> Verdict:
        """Run with files that may not grow beyond a size, as on a full disk."""
        import resource

        self.restore()
        limit = (bytes_a_file, resource.getrlimit(resource.RLIMIT_FSIZE)[1])
        run = self.run(self.words, before=lambda: resource.setrlimit(resource.RLIMIT_FSIZE, limit))
        verdict = self.judged(f"files of at most {bytes_a_file} bytes", run.returncode)
        if run.returncode not in (0, 7) or (run.returncode and len(run.stderr.strip().splitlines()) != 1):
            verdict.wrong.append(f"exit {run.returncode}: {run.stderr.strip()[-300:]}")
        self._check_hidden(verdict)
        return verdict

    def doubled(self) -> Verdict:
        """Run twice at once into the same folder."""
        self.restore()
        runs = [
            subprocess.Popen(
                self._line(self.words), cwd=self.folder, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, text=True
            )
            for _ in range(2)
        ]
        told = [run.communicate()[1] for run in runs]
        verdict = self.judged("two runs at once", max(run.returncode for run in runs))
        for run, text in zip(runs, told, strict=True):
            if run.returncode not in (0, 7):
                verdict.wrong.append(f"exit {run.returncode}: {text.strip()[-300:]}")
        if verdict.stands != "new":
            verdict.wrong.append("neither run is there")
        self._check_hidden(verdict)
        return verdict

    def judged(self, what: str, code: int) -> Verdict:
        """Tell which output stands."""
        out = self.folder / "out"
        found = fingerprint(out) if out.is_dir() else {}
        if found == self.old:
            return Verdict(what, "old", code)
        broken = [name for name in found if not _complete(out / name)]
        if set(found) == self.new and not broken:
            return Verdict(what, "new", code)
        missing, more = sorted(self.new - set(found)), sorted(set(found) - self.new)
        return Verdict(what, "neither", code, [f"missing {missing[:4]}, more {more[:4]}, broken {broken[:4]}"])

    def restore(self) -> None:
        """Put the old output back; nothing else is left."""
        for path in self.folder.iterdir():
            if path.name == "out" or path.name.startswith("."):
                shutil.rmtree(path) if path.is_dir() else path.unlink()
        shutil.copytree(self.folder / "old-out", self.folder / "out")

    def run(self, words: list[str], *, before: object = None) -> subprocess.CompletedProcess[str]:
        """Run a command to its end."""
        return subprocess.run(
            self._line(words), cwd=self.folder, capture_output=True, text=True, check=False, preexec_fn=before
        )  # type: ignore[call-overload]

    def _must(self, words: list[str]) -> None:
        run = self.run(words)
        if run.returncode:
            raise SystemExit(f"{words} ended with {run.returncode}: {run.stderr}")

    def _line(self, words: list[str]) -> list[str]:
        start = "import sys; sys.path.insert(0, sys.argv.pop(1)); from sepkit.cli.main import main; main()"
        return [sys.executable, "-P", "-c", start, str(ROOT), *words]

    def _job(self, width_mm: int) -> None:
        (self.folder / "drop.toml").write_text(_JOB.replace("WIDTH", str(width_mm)), encoding="utf-8")

    def _check_hidden(self, verdict: Verdict) -> None:
        hidden = [p.relative_to(self.folder).as_posix() for p in self.folder.rglob(".*")]
        if hidden:
            verdict.wrong.append(f"left behind: {hidden[:4]}")


def _hear_ctrl_c() -> None:
    """Undo what a shell does to commands in the background, which then do not hear Ctrl-C."""
    signal.signal(signal.SIGINT, signal.default_int_handler)


def fingerprint(folder: Path) -> dict[str, str]:
    """Return each file below a folder with a digest of its bytes and its time, which sepkit job relies on."""
    return {
        path.relative_to(folder).as_posix(): hashlib.sha256(path.read_bytes()).hexdigest()
        for path in sorted(folder.rglob("*"))
        if path.is_file()
    }


def _complete(path: Path) -> bool:
    data = path.read_bytes()
    if path.suffix == ".pdf":
        return data.startswith(b"%PDF-") and data.rstrip().endswith(b"%%EOF")
    if path.suffix == ".png":
        try:
            with Image.open(path) as image:
                image.load()
        except OSError:
            return False
        return True
    if path.suffix == ".json":
        try:
            return isinstance(json.loads(data), dict)
        except ValueError:
            return False
    return path.suffix != ".html" or data.rstrip().endswith(b"</html>")


def _draw(path: Path) -> None:
    from PIL import ImageDraw

    image = Image.new("RGBA", (640, 480), (0, 0, 0, 0))
    draw = ImageDraw.Draw(image)
    draw.ellipse((40, 40, 400, 400), fill=(200, 40, 40, 255))
    draw.rectangle((300, 200, 600, 440), fill=(250, 250, 245, 255))
    image.resize((320, 240), Image.Resampling.LANCZOS).save(path)
