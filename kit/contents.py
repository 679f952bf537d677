"""All files of a kit folder: the papers, the record, the layout. Written as they come, a taster after the other."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import ExitStack, contextmanager
from dataclasses import replace
from io import BytesIO
from typing import BinaryIO

from kit.chance_source import ChanceSource
from kit.coasters import COASTERS_PDF, coaster_title
from kit.drawing import Page
from kit.folder import OpenFile
from kit.fonts import shapeless
from kit.host_papers import HOST_PDF, host_pages
from kit.keys import OpenedKey
from kit.layout_file import write_layout
from kit.mixing import mixing_pages
from kit.packets import CONTENTS_PDF, Contents, contents_pages, packet_name
from kit.papers import SHOW_KEYS, TasterPapers, papers
from kit.pdf import Pdf, Plate, write_pdf
from kit.pdf_file import Sink
from kit.record import LAYOUT_FILE, RECORD_FILE, Kit, opened_keys, record_file
from kit.session import Session
from kit.wording import load_wording


def kit_contents(kit: Kit, chance: ChanceSource) -> dict[str, bytes]:
    """Return the files of a kit folder by name (FORMATS, section 2), printed into memory.

    Raises
    ------
    FacedownError
        If the forms do not fit the paper.
    """
    files: dict[str, bytes] = {}

    @contextmanager
    def open_file(name: str) -> Iterator[BinaryIO]:
        buffer = BytesIO()
        yield buffer
        files[name] = buffer.getvalue()

    print_kit(kit, opened_keys(kit), chance, open_file)
    return files


def print_kit(
    kit: Kit,
    opened: Sequence[OpenedKey],
    chance: ChanceSource,
    open_file: OpenFile,
    *,
    packets: bool = False,
    keys_file: Sink | None = None,
    after_each: Callable[[int], object] = lambda taster: None,
) -> Contents:
    """Write all files of a kit folder, with `packets` a PDF for each packet too, and return what they hold.

    Parameters
    ----------
    opened : sequence of OpenedKey
        The keys to print, in taster order.
    keys_file : Sink, optional
        Where the pages that show a key go, so that none comes into the folder.
    after_each : callable
        Called with a taster's number when that taster's papers are printed.

    Raises
    ------
    FacedownError
        If the forms, or the letter, do not fit the paper.
    """
    host, mixing = host_pages(kit), mixing_pages(kit)
    with ExitStack() as files:
        in_host = (len(host) + 1, len(host) + len(mixing)) if mixing else None
        press = _Press(Contents(kit, {}, packets, in_host), open_file, files, mixing, keys_file)
        for taster_papers in papers(kit, opened, chance):
            press.add(taster_papers)
            after_each(taster_papers.taster)
        contents = press.close()
    title = _title(kit)
    with open_file(HOST_PDF) as file:
        write_pdf(file, (*host, *mixing), title, kit.session.language)
    if packets:
        with open_file(CONTENTS_PDF) as file:
            write_pdf(file, contents_pages(contents), title, kit.session.language)
    with open_file(LAYOUT_FILE) as file:
        layout_sha256 = write_layout(kit, file)
    with open_file(RECORD_FILE) as file:
        file.write(record_file(kit, layout_sha256))
    return contents


def unprintable(session: Session) -> dict[str, str]:
    """Return, for each printed text with characters that no font has a shape for, those characters."""
    texts = (
        session.title,
        *(pour.name for pour in session.pours),
        *(pour.style or "" for pour in session.pours),
        *(taster.name for taster in session.tasters),
        *(line for taster in session.tasters for line in taster.address if session.shuffle == "twin"),
        *session.send_to,
    )
    return {text: missing for text in texts if (missing := shapeless(text))}


class _Press:
    """The PDFs that grow with every taster: one of each kind, and that of the keys if it lies apart."""

    def __init__(
        self,
        contents: Contents,
        open_file: OpenFile,
        files: ExitStack,
        mixing: tuple[Page, ...],
        keys_file: Sink | None,
    ) -> None:
        self._contents, self._open_file, self._files, self._mixing = contents, open_file, files, mixing
        self._kit = kit = contents.kit
        self._plate = Plate()
        self._pdfs: dict[str, Pdf] = {}
        language = kit.session.language
        self._keys = Pdf(keys_file, _title(kit), self._plate, language=language) if keys_file else None

    def add(self, printed: TasterPapers) -> None:
        """Put a taster's pages where they belong."""
        for name, pages in printed.pages.items():
            pdf = self._keys if self._keys and name in SHOW_KEYS else self._pdf(name)
            for page in pages:
                pdf.add(page)
        if not self._contents.pages:
            counts = {name: len(printed.pages[name]) for name in self._pdfs}
            self._contents = replace(self._contents, pages=counts)
        if self._contents.has_packets:
            self._print_packet(printed)

    def close(self) -> Contents:
        """End all files; return what they hold."""
        for pdf in self._pdfs.values():
            pdf.close()
        if self._keys:
            self._keys.close()
        return self._contents

    def _pdf(self, name: str) -> Pdf:
        if name not in self._pdfs:
            title = coaster_title(self._kit) if name == COASTERS_PDF else _title(self._kit)
            file = self._files.enter_context(self._open_file(name))
            self._pdfs[name] = Pdf(file, title, self._plate, language=self._kit.session.language)
        return self._pdfs[name]

    def _print_packet(self, printed: TasterPapers) -> None:
        with self._open_file(packet_name(printed.taster)) as file:
            words = load_wording(self._kit.session.language)
            title = words("contents.packet_title", title=_title(self._kit), packet=printed.taster)
            pdf = Pdf(file, title, self._plate, language=words.language)
            for name in self._contents.in_packet:
                for page in printed.pages[name]:
                    pdf.add(page)
            for page in self._mixing:
                pdf.add(page)
            pdf.close()


def _title(kit: Kit) -> str:
    return f"{kit.session.title} ({kit.id})"
