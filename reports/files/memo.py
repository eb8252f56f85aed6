"""memo.docx: the summary as a one-page memo that can be edited and sent."""

from __future__ import annotations

import io
from datetime import datetime
from typing import TYPE_CHECKING, Any

from dewledger.reports.charts.study import overview
from dewledger.reports.page.summary import summary_part
from dewledger.reports.words.estimates import CAUTION

if TYPE_CHECKING:
    from dewledger.study import Study

# Fixed stamps, so that the same study gives the same bytes.
_CLOCK = datetime(2001, 1, 1)
_NOT_XML = {code: " " for code in range(32) if code not in (9, 10, 13)}


def memo(study: Study, date: str | None = None) -> bytes:
    """The summary of a study as the bytes of a .docx file."""
    from docx import Document
    from docx.shared import Cm, Pt

    display = study.case.display
    part = summary_part(study, display)
    document = Document()
    document.core_properties.created = document.core_properties.modified = _CLOCK
    document.core_properties.author = ""
    document.core_properties.title = _text(study.case.title)
    section = document.sections[0]
    section.left_margin = section.right_margin = Cm(2.0)
    section.top_margin = section.bottom_margin = Cm(1.4)
    style = document.styles["Normal"]
    style.font.name, style.font.size = "Arial", Pt(8.5)
    style.paragraph_format.space_after = Pt(3)
    document.add_heading(_text(study.case.title), 1)
    place = f"Memo{f', {date}' if date else ''}. Weather of {study.weather.station.name}."
    document.add_paragraph(_text(place))
    for block in part.sections:
        if block.title:
            document.add_heading(_text(block.title), 2)
        for question, sentences in block.facts:
            paragraph = document.add_paragraph()
            paragraph.add_run(f"{question}: ").bold = True
            paragraph.add_run(_text(" ".join(sentences)))
        for sentence in block.paragraphs:
            document.add_paragraph(_text(sentence))
        for table in block.tables:
            _add_table(document, table)
        if block.key == "answer":
            picture = io.BytesIO(overview(study, display).png(150))
            document.add_picture(picture, width=Cm(15.0))
        for point in block.points:
            document.add_paragraph(_text(point), style="List Bullet")
    for caution in (CAUTION, *part.cautions):
        document.add_paragraph(_text(caution))
    document.add_paragraph("Prepared by ____________________   Reviewed by ____________________")
    buffer = io.BytesIO()
    document.save(buffer)
    return _same_clock(buffer.getvalue())


def _text(text: str) -> str:
    """Text without the signs that XML cannot hold."""
    return text.translate(_NOT_XML)


def _add_table(document: Any, table: Any) -> None:
    made = document.add_table(rows=1, cols=len(table.heads))
    made.style = "Light Grid"
    for cell, head in zip(made.rows[0].cells, table.heads, strict=True):
        cell.text = _text(f"{head.text}, {head.unit}" if head.unit else head.text)
    for row in table.rows:
        cells = made.add_row().cells
        for cell, text in zip(cells, (row.head, *(one.text for one in row.cells)), strict=True):
            cell.text = _text(text)
    if table.note:
        document.add_paragraph(_text(table.note))


def _same_clock(content: bytes) -> bytes:
    """The same archive with fixed stamps on its entries."""
    import zipfile

    buffer = io.BytesIO()
    with (
        zipfile.ZipFile(io.BytesIO(content)) as old,
        zipfile.ZipFile(buffer, "w", zipfile.ZIP_DEFLATED) as new,
    ):
        for name in old.namelist():
            entry = zipfile.ZipInfo(name, date_time=(2001, 1, 1, 0, 0, 0))
            entry.compress_type = zipfile.ZIP_DEFLATED
            new.writestr(entry, old.read(name))
    return buffer.getvalue()
