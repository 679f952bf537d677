"""All files of a kit folder, as bytes: the papers, the record, the layout."""

from __future__ import annotations

from kit.chance_source import ChanceSource
from kit.coasters import COASTERS_PDF, coaster_pages
from kit.fonts import shapeless
from kit.host_papers import HOST_PDF, host_pages
from kit.key_sheets import KEYS_PDF, key_sheets
from kit.pdf import render
from kit.record import Kit, record_files
from kit.session import Session
from kit.sheet_layout import KitLayout
from kit.sheets import FORMS_PDF, form_sheets


def kit_contents(kit: Kit, chance: ChanceSource) -> dict[str, bytes]:
    """Return the files of a kit folder by name (FORMATS, section 2).

    Raises
    ------
    FacedownError
        If the forms do not fit the paper.
    """
    title = f"{kit.session.title} ({kit.id})"
    forms = tuple(form_sheets(kit))
    keys = tuple(key_sheets(kit, chance))
    coasters = coaster_pages(kit)
    layout = KitLayout(kit.id, tuple(sheet.layout for sheet in (*forms, *keys)), coasters.coasters, coasters.row_ends)
    files = {
        FORMS_PDF: render((sheet.page for sheet in forms), title),
        COASTERS_PDF: render(coasters.pages, title),
        HOST_PDF: render(host_pages(kit), title),
        **({KEYS_PDF: render((sheet.page for sheet in keys), title)} if keys else {}),
    }
    return {**files, **record_files(kit, layout)}


def unprintable(session: Session) -> dict[str, str]:
    """Return, for each printed text with characters that no font has a shape for, those characters."""
    texts = (
        session.title,
        *(pour.name for pour in session.pours),
        *(pour.style or "" for pour in session.pours),
        *(taster.name for taster in session.tasters),
    )
    return {text: missing for text in texts if (missing := shapeless(text))}
