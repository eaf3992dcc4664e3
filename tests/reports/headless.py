"""A browser without a window and without a network, where this computer has one; and what it printed, read back."""

from __future__ import annotations

import os
import re
import shutil
import signal
import subprocess
import zlib
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

NAMES = ("chromium", "chromium-browser", "google-chrome")
LONGEST = 60.0
"""Seconds that a browser may take for one document."""
NOBODY = "MAP * ~NOTFOUND"


def find() -> str:
    """The browser that CHECKLIST_BROWSER names, or the first of the usual ones on the path; "" for none."""
    named = os.environ.get("CHECKLIST_BROWSER", "")
    return next((found for name in ([named] if named else NAMES) if (found := shutil.which(name))), "")


@dataclass(frozen=True)
class Browser:
    """Runs in a profile folder of its own, which goes with the test."""

    program: str
    folder: Path

    def print(self, document: str) -> Pages:
        """The document as it comes out of the printer."""
        made = self.folder / "printed.pdf"
        made.unlink(missing_ok=True)
        self._run(document, NOBODY, "--no-pdf-header-footer", f"--print-to-pdf={made}")
        return Pages(made.read_bytes())

    def dom(self, document: str, *, reaches: str = "") -> str:
        """The document as the browser understood it; of all names and addresses it reaches only `reaches`."""
        rules = f"{NOBODY}, EXCLUDE {reaches}" if reaches else NOBODY
        return self._run(document, rules, "--dump-dom")

    def _run(self, document: str, rules: str, *what: str) -> str:
        page = self.folder / "page.html"
        page.write_text(document, encoding="utf-8")
        command = [
            *(self.program, "--headless=new", "--no-sandbox", "--disable-gpu", "--no-first-run"),
            *("--disable-background-networking", "--disable-component-update", "--disable-sync"),
            *(f"--host-resolver-rules={rules}", f"--user-data-dir={self.folder / 'profile'}", *what, page.as_uri()),
        ]
        # A session of its own: a browser is several processes, and none may be left behind.
        with subprocess.Popen(
            command,
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
            encoding="utf-8",
            start_new_session=True,
        ) as browser:
            try:
                said, complained = browser.communicate(timeout=LONGEST)
            finally:
                with suppress(ProcessLookupError):
                    os.killpg(browser.pid, signal.SIGKILL)
        assert browser.returncode == 0, complained[-2000:]
        return said


class Pages:
    """The pages of a PDF as this browser writes them: their size in points, and the texts on each."""

    def __init__(self, raw: bytes) -> None:
        found = re.findall(rb"\n(\d+) 0 obj\n(.*?)\nendobj", raw, re.DOTALL)
        self._objects = {int(number): body for number, body in found}
        root = next(body for body in self._objects.values() if b"/Type /Pages" in body and b"/Parent" not in body)
        self._pages = list(self._leaves(root))
        self.sizes = [
            tuple(map(float, self._inherited(page, rb"/MediaBox \[([^\]]*)\]").split()[2:])) for page in self._pages
        ]
        self.texts = [self._texts(page) for page in self._pages]

    def __len__(self) -> int:
        return len(self._pages)

    def of(self, text: str) -> list[int]:
        """On which pages a text stands, from 0."""
        return [number for number, texts in enumerate(self.texts) if text in texts]

    def _leaves(self, node: bytes) -> list[bytes]:
        if b"/Type /Pages" not in node:
            return [node]
        kids = re.findall(rb"(\d+) 0 R", re.search(rb"/Kids \[(.*?)\]", node, re.DOTALL)[1])  # type: ignore[index]
        return [leaf for kid in kids for leaf in self._leaves(self._objects[int(kid)])]

    def _inherited(self, page: bytes, pattern: bytes) -> str:
        while not (found := re.search(pattern, page)):
            page = self._object(page, rb"/Parent (\d+) 0 R")
        return found[1].decode()

    def _object(self, of: bytes, pattern: bytes) -> bytes:
        found = re.search(pattern, of)
        assert found, pattern
        return self._objects[int(found[1])]

    def _stream(self, of: bytes, pattern: bytes) -> str:
        body = self._object(of, pattern)
        packed = body[body.index(b"stream\n") + len(b"stream\n") :]
        return zlib.decompressobj().decompress(packed).decode("latin-1")

    def _texts(self, page: bytes) -> list[str]:
        fonts = {
            name: self._letters(self._objects[int(number)])
            for name, number in re.findall(r"/(F\d+) (\d+) 0 R", page.decode("latin-1"))
        }
        lines: list[str] = []
        letters: dict[str, str] = {}
        for font, glyphs, begins in re.findall(
            r"/(F\d+) [\d.]+ Tf|<([0-9A-F]+)>|\b(BT)\b", self._stream(page, rb"/Contents (\d+) 0 R")
        ):
            if begins:
                lines.append("")
            elif font:
                letters = fonts[font]
            else:
                lines[-1] += "".join(letters.get(glyphs[at : at + 4], "") for at in range(0, len(glyphs), 4))
        return [" ".join(line.split()) for line in lines]

    def _letters(self, font: bytes) -> dict[str, str]:
        """Which letter each glyph is."""
        table = self._stream(font, rb"/ToUnicode (\d+) 0 R")
        letters = {}
        for part in re.findall(r"beginbfchar\n(.*?)endbfchar", table, re.DOTALL):
            letters |= {glyph: _text(code) for glyph, code in re.findall(r"<(\w+)> <(\w+)>", part)}
        for part in re.findall(r"beginbfrange\n(.*?)endbfrange", table, re.DOTALL):
            for first, last, code in re.findall(r"<(\w+)> <(\w+)> <(\w+)>", part):
                for number in range(int(first, 16), int(last, 16) + 1):
                    letters[f"{number:04X}"] = chr(int(code, 16) + number - int(first, 16))
        return letters


def _text(code: str) -> str:
    return bytes.fromhex(code).decode("utf-16-be")
