"""Write the description of the API: `python -m tests.web.document`."""

from tests.web.document.whole import FILE, document_text

FILE.write_text(document_text(), encoding="utf-8")
